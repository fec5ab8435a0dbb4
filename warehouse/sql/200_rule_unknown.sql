-- A {kind} names a {target} that nobody has told of yet.
-- for each reference
select '{kind}' as kind, k.identity, 'unknown {target}' as rule, '{effect}' as effect,
    'the {target} ' || k.{column} || ' is not known yet' || {meant} as why
from {kind}_now k
left join {target}_now t on {join}{called}
where k.{column} is not null and t.identity is null
