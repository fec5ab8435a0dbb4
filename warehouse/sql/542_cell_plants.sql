-- one row per site, kind of plot, round, protocol, species and stage of plants found: how their stage was judged
with left_out as (  -- few beside those that stand, so these are what is looked for
    select partner, visit_key, plot_key, frame_key, protocol from laid_frame where stands = 0
)
select distinct c.site_key, p.plot_kind, q.round_on, c.protocol, c.species, coalesce(c.stage, 'any') as stage, c.basis
from counted c
join survey_round q on q.site_key = c.site_key and q.happened = c.happened
join plot_stands p on p.site_key = c.site_key and p.plot_key = c.plot_key
left join left_out x on x.partner = c.partner and x.visit_key = c.visit_key and x.plot_key = c.plot_key
    and x.frame_key = c.frame_key and x.protocol = c.protocol
where c.placement <> 'at unit' and c.species is not null and (c.count > 0 or c.count is null) and x.partner is null
