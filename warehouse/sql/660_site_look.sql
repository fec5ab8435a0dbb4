-- one row per site, sort of look and day on which somebody looked: any visit that found the site, a check of units, a survey
select site_key, 'visit' as what, happened
from visit_any
where outcome = 'found' and site_key is not null
union
select v.site_key, 'check' as what, v.happened
from check_stands c
join visit_any v on v.partner = c.partner and v.visit_key = c.visit_key
where c.state <> 'not searched' and v.site_key is not null
union
select site_key, 'survey' as what, happened
from survey_stands
