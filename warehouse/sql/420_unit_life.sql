-- one row per tagged unit: it went after day l and by day r of being down (r null: never found gone); l = r: the day is known
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
), missed as (  -- absences after the last sighting, and those that were misses since it was there later
    select a.unit_key,
        min(case when s.last_seen is null or a.day > s.last_seen then a.day end) as first_absent,
        count(case when s.last_seen is null or a.day > s.last_seen then 1 end) as absences,
        count(case when a.day <= s.last_seen or a.day < g.witnessed then 1 end) as misses
    from absence a
    left join seen s on s.unit_key = a.unit_key
    left join gone g on g.unit_key = a.unit_key
    group by a.unit_key
), too_early as (
    select u.unit_key
    from unit u
    join check_now c on c.unit_key = u.unit_key and c.happened < u.down_on
    union
    select u.unit_key
    from unit u
    join loss_now l on l.unit_key = u.unit_key and l.happened < u.down_on
), told as (
    select u.unit_key, u.site_key, u.plot_key, u.method, u.fixing, u.down_on, s.last_seen, s.retrieved_on, g.witnessed,
        case
            when s.retrieved_on is not null then cast(null as date)
            when m.first_absent is null then g.found_off
            when g.found_off is null then m.first_absent
            else least(m.first_absent, g.found_off)
        end as first_gone,
        coalesce(m.misses, 0) as misses,
        case when m.absences = 1 and g.found_off is null and g.witnessed is null then 1 else 0 end as absent_once,
        e.unit_key is not null as too_early, q.first_failed
    from unit u
    left join seen s on s.unit_key = u.unit_key
    left join gone g on g.unit_key = u.unit_key
    left join missed m on m.unit_key = u.unit_key
    left join too_early e on e.unit_key = u.unit_key
    left join site_search q on q.site_key = u.site_key and q.first_failed > u.down_on
), dated as (
    select unit_key, site_key, plot_key, method, fixing, down_on, misses,
        case when witnessed is not null and (last_seen is null or last_seen <= witnessed)
            then date_diff('day', down_on, witnessed)
            else coalesce(date_diff('day', down_on, last_seen), 0) end as l,
        case when witnessed is not null and (last_seen is null or last_seen <= witnessed)
            then date_diff('day', down_on, witnessed)
            else date_diff('day', down_on, first_gone) end as r,
        case
            when too_early then 'looked for before being put down'
            when witnessed is not null and last_seen > witnessed then 'seen after being seen to go'
            when witnessed is not null then ''
            when first_gone < last_seen then 'found off before the day last seen'
            else ''
        end as unresolved,
        absent_once, retrieved_on, date_diff('day', down_on, first_failed) as failed_on
    from told
)
select unit_key, site_key, plot_key, method, fixing, down_on, misses, l, r, unresolved,
    -- its going rests on one look, the last at it
    case when r is not null and retrieved_on is null then absent_once else 0 end as absent_once,
    -- nobody could look for it since: its site was searched for and not found
    case when r is null and retrieved_on is null and failed_on > l then failed_on end as failed_on
from dated
