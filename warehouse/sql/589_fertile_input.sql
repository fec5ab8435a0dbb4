-- one row per site, kind of plot, species, stage, round, protocol, fertile plants (null: not told) and area: how many frames
with looked as (  -- of others nothing is said; this keeps most of a large programme's rows out
    select distinct site_key, plot_kind, species, stage, round_on, protocol
    from plant_row
    where too_small = 0 and fertile_count is not null
), told as (
    select p.partner, p.visit_key, p.plot_key, p.frame_key, p.protocol, p.species, p.stage, sum(p.fertile_count) as fertile,
        max(case when p.count > 0 and p.fertile_count is null then 1 else 0 end) as untold
    from plant_row p
    join looked l on l.site_key = p.site_key and l.plot_kind = p.plot_kind and l.species = p.species and l.stage = p.stage
        and l.round_on = p.round_on and l.protocol = p.protocol
    where p.too_small = 0
    group by p.partner, p.visit_key, p.plot_key, p.frame_key, p.protocol, p.species, p.stage
), every as (
    select f.site_key, f.plot_kind, f.species, f.stage, f.round_on, f.protocol, f.area_m2,
        case when f.count = 0 then 0 when t.untold = 0 then t.fertile end as fertile,
        max(case when t.fertile is not null then 1 else 0 end) over (
            partition by f.site_key, f.plot_kind, f.species, f.stage, f.round_on, f.protocol) as looked
    from frame_count f
    join looked l on l.site_key = f.site_key and l.plot_kind = f.plot_kind and l.species = f.species and l.stage = f.stage
        and l.round_on = f.round_on and l.protocol = f.protocol
    left join told t on t.partner = f.partner and t.visit_key = f.visit_key and t.plot_key = f.plot_key
        and t.frame_key = f.frame_key and t.protocol = f.protocol and t.species = f.species and t.stage = f.stage
    where f.placement <> 'at unit'
)
select site_key, plot_kind, species, stage, round_on, protocol, fertile, area_m2, count(*) as frames
from every
where looked = 1
group by site_key, plot_kind, species, stage, round_on, protocol, fertile, area_m2
