-- one row per permit whose quota is passed: the day in the sea on which all that is recorded passed it
select permit_key, min(happened) as passed_on
from (
    select u.permit_key, u.happened, u.quota,
        sum(u.amount) over (
            partition by u.permit_key order by u.happened, u.identity rows between unbounded preceding and current row) as so_far
    from permit_use u
    left join waiting w on w.kind = u.kind and w.identity = u.identity
    where w.identity is null and u.quota is not null and not u.other_activity
) told
where so_far > quota
group by permit_key
