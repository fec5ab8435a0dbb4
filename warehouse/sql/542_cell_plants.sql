-- one row per site, kind of plot, round, protocol, species and stage of plants found: how their stage was judged
select distinct f.site_key, f.plot_kind, f.round_on, f.protocol, c.species, coalesce(c.stage, 'any') as stage, c.basis
from counted c
join frame f on f.partner = c.partner and f.visit_key = c.visit_key and f.plot_key = c.plot_key
    and f.frame_key = c.frame_key and f.protocol = c.protocol
where f.placement <> 'at unit' and c.species is not null and (c.count > 0 or c.count is null)
