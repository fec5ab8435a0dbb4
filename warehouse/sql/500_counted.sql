-- one row per survey row with its stage by the programme's length rule where only a length was written
select s.identity, s.partner, s.visit_key, s.site_key, s.plot_key, s.frame_key, s.frame_type, s.placement, s.happened,
    s.area_m2, s.protocol, s.species, coalesce(s.stage, g.stage) as stage, s.count
from survey_stands s
left join setting_stage g on g.species = s.species and s.stage is null
    and s.length_cm >= g.from_cm and s.length_cm < g.to_cm
where s.frame_type <> 'timed search' and coalesce(s.alive, true)
