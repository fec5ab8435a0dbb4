-- one row per tagged unit: it went after day l and by day r of being down (r null: never found gone); l = r: seen to go
-- kept
with seen as (
    select s.unit_key, max(s.day) as last_seen, max(case when s.retrieved = 1 then s.day end) as retrieved_on
    from sighting s
    group by s.unit_key
), gone as (  -- found off its fixing, and seen to go
    select l.unit_key,
        min(case when l.how_known in ('adrift', 'ashore') then l.happened end) as found_off,
        min(case when l.how_known = 'witnessed' then l.happened end) as witnessed
    from loss_stands l
    group by l.unit_key
), missed as (
    select a.unit_key,
        min(case when s.last_seen is null or a.day > s.last_seen then a.day end) as first_absent,
        count(case when a.day <= s.last_seen then 1 end) as misses
    from absence a
    left join seen s on s.unit_key = a.unit_key
    group by a.unit_key
), told as (
    select u.unit_key, u.site_key, u.plot_key, u.method, u.fixing, u.down_on, s.last_seen, s.retrieved_on, g.witnessed,
        case
            when s.retrieved_on is not null then cast(null as date)
            when m.first_absent is null then g.found_off
            when g.found_off is null then m.first_absent
            else least(m.first_absent, g.found_off)
        end as first_gone,
        coalesce(m.misses, 0) as misses
    from unit u
    left join seen s on s.unit_key = u.unit_key
    left join gone g on g.unit_key = u.unit_key
    left join missed m on m.unit_key = u.unit_key
)
select unit_key, site_key, plot_key, method, fixing, down_on, misses,
    case when witnessed is not null and (last_seen is null or last_seen <= witnessed)
        then date_diff('day', down_on, witnessed)
        else coalesce(date_diff('day', down_on, last_seen), 0) end as l,
    case when witnessed is not null and (last_seen is null or last_seen <= witnessed)
        then date_diff('day', down_on, witnessed)
        else date_diff('day', down_on, first_gone) end as r,
    case
        when witnessed is not null and last_seen > witnessed then 'seen after it was seen to go'
        when witnessed is not null then ''
        when first_gone is not null and first_gone <= coalesce(last_seen, down_on) then 'gone on or before the day it was last seen'
        else ''
    end as unresolved
from told
