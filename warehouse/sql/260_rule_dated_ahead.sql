-- An event is dated after the day on which it was handed in.
-- for each event
select '{kind}' as kind, x.identity, 'dated ahead' as rule, 'waits' as effect,
    'it is dated ' || cast(x.happened as varchar) || ', which had not come when it was handed in' as why
from ahead_{kind} x
