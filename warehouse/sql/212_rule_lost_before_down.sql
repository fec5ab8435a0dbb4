-- A unit was lost before the day it was put down.
select 'loss' as kind, l.identity, 'lost before it was put down' as rule, 'waits' as effect,
    'unit ' || l.unit_key || ' was lost on ' || cast(l.happened as varchar)
        || ' but put down on ' || cast(d.happened as varchar) as why
from loss_now l
join deployment_now d on d.unit_key = l.unit_key
where l.happened < d.happened
