-- one row per frame counted under a protocol on one visit; a fixed frame counted twice in a round stands once, the last
-- kept
with laid as (
    select c.partner, c.visit_key, c.site_key, c.plot_key, c.frame_key, c.protocol, c.frame_type, c.placement,
        c.happened, q.round_on, min(c.area_m2) as area_m2
    from counted c
    join survey_round q on q.site_key = c.site_key and q.happened = c.happened
    where c.count is not null
    group by c.partner, c.visit_key, c.site_key, c.plot_key, c.frame_key, c.protocol, c.frame_type, c.placement,
        c.happened, q.round_on
), ranked as (
    select l.*,
        case when l.placement = 'fixed'
            then row_number() over (
                partition by l.site_key, l.plot_key, l.frame_key, l.protocol, l.frame_type, l.placement, l.round_on
                order by l.happened desc, l.partner, l.visit_key)
            else 1 end as newest
    from laid l
)
select r.partner, r.visit_key, r.site_key, r.plot_key, p.plot_kind, r.frame_key, r.protocol, r.frame_type, r.placement,
    r.happened, r.round_on, r.area_m2
from ranked r
join plot_stands p on p.site_key = r.site_key and p.plot_key = r.plot_key
where r.newest = 1 and r.area_m2 is not null
