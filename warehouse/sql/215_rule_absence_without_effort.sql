-- A unit was called absent without saying how long or how widely it was searched for.
select 'check' as kind, c.identity, 'absence without effort' as rule, 'caution' as effect,
    'how long or how widely unit ' || c.unit_key || ' was searched for is not told' as why
from check_now c
where c.state = 'absent' and c.search_time_min is null and c.area_searched_m2 is null
