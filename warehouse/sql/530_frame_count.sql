-- one row per frame and species and stage of its protocol: how many, zero where the frame was counted and none written
-- kept
with told as (
    select c.partner, c.visit_key, c.plot_key, c.frame_key, c.protocol, c.species, c.stage, c.count, c.area_m2, c.single
    from counted c
    where c.species is not null and c.too_small = 0
), whole as (  -- where somebody wrote how many there were of all stages together
    select distinct partner, visit_key, plot_key, frame_key, protocol, species from told where stage = 'any'
), asked as (
    select distinct protocol, species, stage from setting_protocol
), of_stage as (  -- of all stages together: as written, else every plant of the species
    select t.*
    from told t
    join asked a on a.protocol = t.protocol and a.species = t.species and a.stage = t.stage
    union all
    select t.partner, t.visit_key, t.plot_key, t.frame_key, t.protocol, t.species, a.stage, t.count, t.area_m2, 1 as single
    from told t
    join asked a on a.protocol = t.protocol and a.species = t.species and a.stage = 'any'
    left join whole w on w.partner = t.partner and w.visit_key = t.visit_key and w.plot_key = t.plot_key
        and w.frame_key = t.frame_key and w.protocol = t.protocol and w.species = t.species
    where w.species is null
), written as (
    select partner, visit_key, plot_key, frame_key, protocol, species, stage, sum(count) as count, min(area_m2) as area_m2,
        max(case when count is null then 1 else 0 end) as uncounted, max(single) as summed
    from of_stage
    group by partner, visit_key, plot_key, frame_key, protocol, species, stage
), unstaged as (  -- plants of a species whose stage nobody told: its stages are then not known to be zero
    select distinct partner, visit_key, plot_key, frame_key, protocol, species
    from told
    where (stage is null or stage = 'any') and (count > 0 or count is null)
), unsure as (  -- a row of the frame is missing that may be of this species and stage
    select distinct f.partner, f.visit_key, f.plot_key, f.frame_key, t.protocol, t.species, t.stage
    from frame f
    join setting_protocol t on t.protocol = f.protocol
    join doubt d on d.partner = f.partner and d.visit_key = f.visit_key and d.plot_key = f.plot_key
        and d.frame_key = f.frame_key
    where (d.species is null or d.species = t.species)
        and (d.stage is null or d.stage = t.stage or d.stage = 'any' or t.stage = 'any')
)
select f.partner, f.visit_key, f.site_key, f.plot_key, f.plot_kind, f.frame_key, f.protocol, f.frame_type, f.placement,
    f.happened, f.round_on, t.species, t.stage, coalesce(w.count, 0) as count, coalesce(w.area_m2, f.area_m2) as area_m2
from frame f
join setting_protocol t on t.protocol = f.protocol
left join written w on w.partner = f.partner and w.visit_key = f.visit_key and w.plot_key = f.plot_key
    and w.frame_key = f.frame_key and w.protocol = f.protocol and w.species = t.species and w.stage = t.stage
left join unstaged n on n.partner = f.partner and n.visit_key = f.visit_key and n.plot_key = f.plot_key
    and n.frame_key = f.frame_key and n.protocol = f.protocol and n.species = t.species and t.stage <> 'any'
left join unsure u on u.partner = f.partner and u.visit_key = f.visit_key and u.plot_key = f.plot_key
    and u.frame_key = f.frame_key and u.protocol = f.protocol and u.species = t.species and u.stage = t.stage
where coalesce(w.uncounted, 0) = 0 and n.species is null
    -- one number written for all plants of this stage stays good whatever else is missing; a sum or a zero does not
    and (u.species is null or w.summed = 0)
