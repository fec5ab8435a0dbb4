-- A unit was looked for or lost that nobody has put down.
select x.kind, x.identity, 'never deployed' as rule, 'waits' as effect,
    'unit ' || x.unit_key || ' was never put down, as far as anyone has told' as why
from (
    select 'check' as kind, identity, unit_key from check_now
    union all
    select 'loss' as kind, identity, unit_key from loss_now where lower(unit_key) <> 'cannot name'
) x
left join deployment_now d on d.unit_key = x.unit_key
left join unit_in_dispute q on q.unit_key = x.unit_key
where d.identity is null and q.unit_key is null
