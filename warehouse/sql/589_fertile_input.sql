-- one row per site, kind of plot, species, stage, round, protocol, fertile plants (null: not told) and area: how many frames
with told as (
    select partner, visit_key, plot_key, frame_key, protocol, happened, species, stage, sum(fertile_count) as fertile,
        max(case when count > 0 and fertile_count is null then 1 else 0 end) as untold
    from plant_row
    where too_small = 0
    group by partner, visit_key, plot_key, frame_key, protocol, happened, species, stage
), every as (
    select f.site_key, f.plot_kind, f.species, f.stage, f.round_on, f.protocol, f.area_m2,
        case when f.count = 0 then 0 when t.untold = 0 then t.fertile end as fertile,
        max(case when t.fertile is not null then 1 else 0 end) over (
            partition by f.site_key, f.plot_kind, f.species, f.stage, f.round_on, f.protocol) as looked
    from frame_count f
    left join told t on t.partner = f.partner and t.visit_key = f.visit_key and t.plot_key = f.plot_key
        and t.frame_key = f.frame_key and t.protocol = f.protocol and t.happened = f.happened
        and t.species = f.species and t.stage = f.stage
    where f.placement <> 'at unit'
)
select site_key, plot_kind, species, stage, round_on, protocol, fertile, area_m2, count(*) as frames
from every
where looked = 1
group by site_key, plot_kind, species, stage, round_on, protocol, fertile, area_m2
