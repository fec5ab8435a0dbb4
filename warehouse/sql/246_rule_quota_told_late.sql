-- A taking that was told late makes a permit's quota passed.
with counted as (
    select u.kind, u.identity, u.permit_key, u.key, u.happened, u.amount, u.quota, u.unit, cast(e.recorded as date) as told_on
    from permit_use u
    join entry e on e.number = u.entry
    where u.quota is not null and u.amount is not null and not u.other_activity
), ordered as (
    select kind, identity, permit_key, key, happened, amount, quota, unit, told_on,
        sum(amount) over (
            partition by permit_key order by told_on, happened, identity rows between unbounded preceding and current row) as so_far,
        max(happened) over (
            partition by permit_key order by told_on, happened, identity rows between unbounded preceding and 1 preceding) as later
    from counted
)
select kind, identity, 'quota passed by a late word' as rule, 'caution' as effect,
    key || ' of ' || cast(happened as varchar) || ' was told on ' || cast(told_on as varchar) || ', after others of later days: with it '
        || cast(cast(so_far as decimal(18, 1)) as varchar) || ' ' || unit || ' are recorded of the '
        || cast(cast(quota as decimal(18, 1)) as varchar) || ' that permit ' || permit_key || ' allows' as why
from ordered
where so_far > quota and so_far - amount <= quota and later > happened
