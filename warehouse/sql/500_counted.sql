-- one row per survey row with its stage by the programme's length rule where only a length was written
select s.identity, s.partner, s.visit_key, s.site_key, s.plot_key, s.frame_key, s.frame_type, s.placement, s.happened,
    s.area_m2, s.protocol, s.species, coalesce(s.stage, g.stage) as stage, s.count,
    -- one plant of several, so that a sum over its like is whole only if every row of them is there
    case when s.plant_no is not null or (s.stage is null and s.length_cm is not null) then 1 else 0 end as single,
    case when s.length_cm < t.smallest_cm then 1 else 0 end as too_small,
    case when s.stage is null and s.length_cm is not null then 'length' else s.stage_basis end as basis,
    s.length_cm, s.fertile_count, s.cover_pct, s.points
from survey_stands s
left join setting_stage g on g.species = s.species and s.stage is null
    and s.length_cm >= g.from_cm and s.length_cm < g.to_cm
left join setting_protocol t on t.protocol = s.protocol and t.species = s.species
    and t.stage = coalesce(s.stage, g.stage)
where s.frame_type <> 'timed search' and coalesce(s.alive, true)
