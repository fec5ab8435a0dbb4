-- one row per site, day and species of dives of whose plants a stage is told by a rule for lengths that was changed since
-- none without setting_stage_changed: site_key varchar, happened date, why varchar
select distinct s.site_key, s.happened,
    'stages of ' || s.species || ' are told by a rule for lengths that was changed on ' || cast(c.changed as varchar)
        || ', after these dives' as why
from survey_stands s
join setting_stage_changed c on c.species = s.species and s.happened < c.changed
where s.stage is null and s.length_cm is not null
