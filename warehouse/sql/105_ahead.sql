-- one row per {kind} dated after the last day on which anybody told of it: not yet to be believed
-- for each event
-- kept
with early as (  -- recorded in UTC, happened by the local calendar: these may lie a day apart
    select n.identity, n.content, n.happened
    from {kind}_now n
    join entry e on e.number = n.entry
    where n.happened > cast(e.recorded as date) + 1
)
select x.identity, x.happened
from early x
join part p on p.identity = x.identity and p.content = x.content
join entry e on e.number = p.entry
cross join as_of a
where p.kind = '{kind}' and p.entry <= a.entry and p.fate <> 'faulty'
group by x.identity, x.happened
having x.happened > max(cast(e.recorded as date)) + 1
