-- one row per frame and species and stage of its protocol: how many, zero where the frame was counted and none written
with written as (
    select c.partner, c.visit_key, c.plot_key, c.frame_key, c.protocol, c.species, c.stage, c.happened,
        sum(c.count) as count, min(c.area_m2) as area_m2,
        max(case when c.count is null then 1 else 0 end) as uncounted
    from counted c
    where c.species is not null
    group by c.partner, c.visit_key, c.plot_key, c.frame_key, c.protocol, c.species, c.stage, c.happened
), unstaged as (  -- plants of a species whose stage nobody told: its stages are then not known to be zero
    select distinct partner, visit_key, plot_key, frame_key, protocol, species
    from written
    where (stage is null or stage = 'any') and (count > 0 or uncounted = 1)
)
select f.partner, f.visit_key, f.site_key, f.plot_key, f.plot_kind, f.frame_key, f.protocol, f.frame_type, f.placement,
    f.happened, f.round_on, t.species, t.stage, coalesce(w.count, 0) as count, coalesce(w.area_m2, f.area_m2) as area_m2
from frame f
join setting_protocol t on t.protocol = f.protocol
left join written w on w.partner = f.partner and w.visit_key = f.visit_key and w.plot_key = f.plot_key
    and w.frame_key = f.frame_key and w.protocol = f.protocol and w.happened = f.happened
    and w.species = t.species and w.stage = t.stage
left join unstaged n on n.partner = f.partner and n.visit_key = f.visit_key and n.plot_key = f.plot_key
    and n.frame_key = f.frame_key and n.protocol = f.protocol and n.species = t.species and t.stage <> 'any'
where coalesce(w.uncounted, 0) = 0 and n.species is null
