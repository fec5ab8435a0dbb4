-- A unit was called absent on a dive that did not find the site.
select 'check' as kind, c.identity, 'absent where the site was not found' as rule, 'waits' as effect,
    'dive ' || c.visit_key || ' did not find the site, so it proves nothing about unit ' || c.unit_key as why
from check_now c
join visit_now v on v.partner = c.partner and v.visit_key = c.visit_key
where c.state = 'absent' and v.outcome <> 'found'
