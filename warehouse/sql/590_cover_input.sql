-- one row per site, kind of plot, species, stage, round, protocol, points, points hit and cover (both null: not told): how many frames
with measured as (  -- of other rounds nothing is said; this keeps most of a large programme's rows out
    select distinct site_key, round_on, protocol
    from plant_row
    where species is not null and (cover_pct is not null or (frame_type = 'points' and points is not null and count is not null))
), told as (
    select p.partner, p.visit_key, p.site_key, p.plot_key, p.plot_kind, p.frame_key, p.frame_type, p.protocol, p.happened,
        p.round_on, p.species, coalesce(p.stage, 'any') as stage, max(case when p.frame_type = 'points' then p.points end) as points,
        sum(case when p.frame_type = 'points' and p.points is not null and p.cover_pct is null then p.count end) as hits,
        case when sum(p.cover_pct) > 100 then 100 else sum(p.cover_pct) end as cover_pct,
        max(case when p.cover_pct is null and (p.frame_type <> 'points' or p.points is null) and coalesce(p.count, 1) > 0
            then 1 else 0 end) as untold
    from plant_row p
    join measured m on m.site_key = p.site_key and m.round_on = p.round_on and m.protocol = p.protocol
    group by p.partner, p.visit_key, p.site_key, p.plot_key, p.plot_kind, p.frame_key, p.frame_type, p.protocol, p.happened,
        p.round_on, p.species, coalesce(p.stage, 'any')
), looked as (  -- a frame in which the cover of anything was told, or in which there was nothing
    select partner, visit_key, site_key, plot_key, plot_kind, frame_key, frame_type, protocol, happened, round_on,
        max(points) as points
    from told
    group by partner, visit_key, site_key, plot_key, plot_kind, frame_key, frame_type, protocol, happened, round_on
    having max(case when hits is not null or cover_pct is not null or species is null then 1 else 0 end) = 1
), sought as (
    select distinct site_key, round_on, protocol, species, stage
    from told
    where species is not null and (hits is not null or cover_pct is not null)
), unsure as (
    select distinct l.partner, l.visit_key, l.plot_key, l.frame_key, g.species, g.stage
    from looked l
    join sought g on g.site_key = l.site_key and g.round_on = l.round_on and g.protocol = l.protocol
    join doubt d on d.partner = l.partner and d.visit_key = l.visit_key and d.plot_key = l.plot_key
        and d.frame_key = l.frame_key
    where (d.species is null or d.species = g.species)
        and (d.stage is null or d.stage = g.stage or d.stage = 'any' or g.stage = 'any')
), searched as (
    select distinct protocol, species from setting_protocol
), every as (
    select l.site_key, l.plot_kind, g.species, g.stage, l.round_on, l.protocol, l.points, t.hits, t.cover_pct,
        case when u.species is not null or t.untold = 1 or (t.species is null and s.species is null) then 1 else 0 end as unknown
    from looked l
    join sought g on g.site_key = l.site_key and g.round_on = l.round_on and g.protocol = l.protocol
    left join searched s on s.protocol = g.protocol and s.species = g.species
    left join told t on t.partner = l.partner and t.visit_key = l.visit_key and t.plot_key = l.plot_key
        and t.frame_key = l.frame_key and t.frame_type = l.frame_type and t.protocol = l.protocol
        and t.happened = l.happened and t.species = g.species and t.stage = g.stage
    left join unsure u on u.partner = l.partner and u.visit_key = l.visit_key and u.plot_key = l.plot_key
        and u.frame_key = l.frame_key and u.species = g.species and u.stage = g.stage
)
select site_key, plot_kind, species, stage, round_on, protocol, points,
    case when unknown = 1 or points is null then null when cover_pct is null then coalesce(hits, 0) end as hits,
    case when unknown = 1 then null when points is null or cover_pct is not null then coalesce(cover_pct, 0) end as cover_pct,
    count(*) as frames
from every
group by site_key, plot_kind, species, stage, round_on, protocol, points,
    case when unknown = 1 or points is null then null when cover_pct is null then coalesce(hits, 0) end,
    case when unknown = 1 then null when points is null or cover_pct is not null then coalesce(cover_pct, 0) end
