-- one row per site, kind of plot, species, stage, round, protocol, nearness to units, count and area: how many frames
select f.site_key, f.plot_kind, f.species, f.stage, f.round_on, f.protocol,
    case when f.placement = 'at unit' then 'near units' else 'plot' end as placed,
    f.count, f.area_m2, count(*) as frames
from frame_count f
group by f.site_key, f.plot_kind, f.species, f.stage, f.round_on, f.protocol,
    case when f.placement = 'at unit' then 'near units' else 'plot' end, f.count, f.area_m2
