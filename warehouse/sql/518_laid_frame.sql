-- one row per frame laid under a protocol on one visit: whether it stands, counted and of known area; a fixed one once a round, the last
-- kept
with laid as (  -- a frame of a dive is at one site, on one day, of one kind and placement: one told in two ways waits
    select c.partner, c.visit_key, c.plot_key, c.frame_key, c.protocol, min(c.site_key) as site_key,
        min(c.frame_type) as frame_type, min(c.placement) as placement, min(c.happened) as happened,
        min(case when c.count is not null then c.area_m2 end) as area_m2,
        max(case when c.count is not null then 1 else 0 end) as was_counted
    from counted c
    group by c.partner, c.visit_key, c.plot_key, c.frame_key, c.protocol
), placed as (
    select l.partner, l.visit_key, l.site_key, l.plot_key, p.plot_kind, l.frame_key, l.protocol, l.frame_type, l.placement,
        l.happened, q.round_on, l.area_m2, l.was_counted
    from laid l
    join survey_round q on q.site_key = l.site_key and q.happened = l.happened
    join plot_stands p on p.site_key = l.site_key and p.plot_key = l.plot_key
), ranked as (
    select f.*,
        row_number() over (
            partition by f.site_key, f.plot_key, f.frame_key, f.protocol, f.frame_type, f.round_on, f.was_counted
            order by f.happened desc, f.partner, f.visit_key) as newest
    from placed f
    where f.placement = 'fixed'
)
select partner, visit_key, site_key, plot_key, plot_kind, frame_key, protocol, frame_type, placement, happened, round_on,
    area_m2, case when area_m2 is not null then 1 else 0 end as stands
from placed
where placement <> 'fixed'
union all
select r.partner, r.visit_key, r.site_key, r.plot_key, r.plot_kind, r.frame_key, r.protocol, r.frame_type, r.placement,
    r.happened, r.round_on, r.area_m2, case when r.newest = 1 and r.area_m2 is not null then 1 else 0 end as stands
from ranked r
