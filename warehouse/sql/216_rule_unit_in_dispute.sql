-- A unit was looked for or lost whose putting down two partners tell of differently.
select x.kind, x.identity, 'unit in dispute' as rule, 'waits' as effect,
    'unit ' || x.unit_key || ' waits for a ruling: its putting down is told of differently' as why
from (
    select 'check' as kind, identity, unit_key from check_now
    union all
    select 'loss' as kind, identity, unit_key from loss_now
) x
join unit_in_dispute q on q.unit_key = x.unit_key
left join deployment_now d on d.unit_key = x.unit_key
where d.identity is null
