-- one row per site, species, round, protocol, fixed frame (null: others), plants, those past recruits and area: treated frames
with told as (
    select f.plot_key, f.frame_key, f.protocol, f.species, min(f.site_key) as site_key, min(f.placement) as placement,
        min(f.round_on) as round_on, min(f.area_m2) as area_m2,
        max(case when f.stage = 'any' then f.count end) as whole,
        max(case when f.stage = 'recruit' then f.count end) as recruits,
        sum(case when f.stage in ('juvenile', 'sub-canopy', 'canopy') then f.count end) as older,
        count(case when f.stage in ('juvenile', 'sub-canopy', 'canopy') then 1 end) as older_stages
    from frame_count f
    where f.plot_kind = 'treated' and f.placement <> 'at unit'
    group by f.partner, f.visit_key, f.plot_key, f.frame_key, f.protocol, f.species
), known as (  -- recruits are told apart from all others, or nothing is said
    select t.*, coalesce(t.whole, t.recruits + case when t.older_stages = 3 then t.older end) as plants,
        coalesce(case when t.older_stages = 3 then t.older end, t.whole - t.recruits) as past
    from told t
)
select k.site_key, k.species, k.round_on, k.protocol,
    case when k.placement = 'fixed' then k.plot_key || ' ' || k.frame_key end as fixed_frame,
    k.plants, k.past, k.area_m2, count(*) as frames
from known k
join (select distinct protocol, species from setting_protocol where stage = 'recruit') r
    on r.protocol = k.protocol and r.species = k.species
group by k.site_key, k.species, k.round_on, k.protocol,
    case when k.placement = 'fixed' then k.plot_key || ' ' || k.frame_key end, k.plants, k.past, k.area_m2
