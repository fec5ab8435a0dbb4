-- A unit was looked for before the day it was put down.
select 'check' as kind, c.identity, 'seen before it was put down' as rule, 'waits' as effect,
    'unit ' || c.unit_key || ' was looked for on ' || cast(c.happened as varchar)
        || ' but put down on ' || cast(d.happened as varchar) as why
from check_now c
join deployment_now d on d.unit_key = c.unit_key
where c.happened < d.happened
