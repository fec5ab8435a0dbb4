-- one row per tagged unit: it was there and whole until after day l and torn, empty or gone by day r (null: never found so)
with broken as (
    select c.unit_key, min(c.happened) as first_broken
    from check_stands c
    where c.state in ('torn', 'empty') or (c.state = 'retrieved' and not coalesce(c.retrieved_whole, true))
    group by c.unit_key
), whole as (  -- once torn, being called attached makes no bag whole again
    select c.unit_key, max(case when b.first_broken is null or c.happened < b.first_broken then c.happened end) as last_whole,
        count(case when c.happened > b.first_broken then 1 end) as called_whole_after
    from check_stands c
    left join broken b on b.unit_key = c.unit_key
    where c.state = 'attached' or (c.state = 'retrieved' and coalesce(c.retrieved_whole, false))
    group by c.unit_key
)
select u.unit_key, u.site_key, u.method, u.unresolved, u.failed_on, b.first_broken,
    coalesce(date_diff('day', u.down_on, w.last_whole), 0) as l,
    case when b.first_broken is null then u.r
        when u.r is null then date_diff('day', u.down_on, b.first_broken)
        else least(u.r, date_diff('day', u.down_on, b.first_broken)) end as r,
    coalesce(w.called_whole_after, 0) as called_whole_after,
    u.misses, case when b.first_broken is null then u.absent_once else 0 end as absent_once
from unit_life u
left join broken b on b.unit_key = u.unit_key
left join whole w on w.unit_key = u.unit_key
