-- one row per published frame and species and stage of its protocol: count and area, and the one row that saw it, if it is one
with one_row as (
    select partner, visit_key, site_key, plot_key, frame_key, species, of_stage, min(identity) as identity, count(*) as found,
        max(plant_no) as plant_no
    from archive_seen
    group by partner, visit_key, site_key, plot_key, frame_key, species, of_stage
)
select c.partner, c.visit_key, c.site_key, c.plot_key, c.frame_key, c.species, c.stage, c.happened, c.count, c.area_m2,
    cast(c.count / nullif(c.area_m2, 0) as decimal(18, 6)) as per_m2,
    case when o.found = 1 and o.plant_no is null then o.identity end as seen
from frame_count c
join archive_frame f on f.partner = c.partner and f.visit_key = c.visit_key and f.site_key = c.site_key
    and f.plot_key = c.plot_key and f.frame_key = c.frame_key
left join one_row o on o.partner = c.partner and o.visit_key = c.visit_key and o.site_key = c.site_key
    and o.plot_key = c.plot_key and o.frame_key = c.frame_key and o.species = c.species and o.of_stage = c.stage
