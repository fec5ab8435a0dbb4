-- one row per survey row of a frame in a plot with its round; of a fixed frame counted twice in a round only the last time
with told as (
    select c.identity, c.partner, c.visit_key, c.site_key, c.plot_key, p.plot_kind, c.frame_key, c.frame_type, c.protocol,
        c.happened, q.round_on, c.species, c.stage, c.count, c.too_small,
        case when c.placement = 'fixed' then max(c.happened) over (
            partition by c.site_key, c.plot_key, c.frame_key, c.frame_type, c.protocol, c.placement, q.round_on)
            else c.happened end as newest
    from counted c
    join survey_round q on q.site_key = c.site_key and q.happened = c.happened
    join plot_stands p on p.site_key = c.site_key and p.plot_key = c.plot_key
    where c.placement <> 'at unit'
)
select t.identity, t.partner, t.visit_key, t.site_key, t.plot_key, t.plot_kind, t.frame_key, t.frame_type, t.protocol,
    t.happened, t.round_on, t.species, t.stage, t.count, t.too_small, s.fertile_count, s.cover_pct, s.points, s.length_cm
from told t
join survey_stands s on s.identity = t.identity
where t.happened = t.newest
