-- one row per unit and day it was searched for, well enough, and not there
select c.unit_key, c.happened as day
from check_stands c
cross join setting r
left join visit_any v on v.partner = c.partner and v.visit_key = c.visit_key
where c.state = 'absent'
    and (c.search_time_min is null or c.search_time_min >= r.least_search_min)
    and (v.visibility_m is null or v.visibility_m >= r.least_visibility_m)
union
select l.unit_key, l.happened as day
from loss_stands l
where l.how_known = 'missed'
