-- one row per identity that waits for a ruling, or had one, or was settled by a rule, and each thing said of it
with asked as (
    select identity, max(waits) as waits
    from (
        select identity, 1 as waits from held_open where fate in ('conflict', 'question')
        union all
        select identity, 1 as waits from in_dispute
        union all
        select identity, 0 as waits from ruled
        union all
        select identity, 0 as waits from settled_by_rule
    ) told
    group by identity
)
select p.kind, p.key, p.identity, p.content,
    case when p.fate in ('entered', 'amends', 'repeated') then 'taken in' else p.fate end as said_as,
    p.partner, e.name, p.sheet, p.row, p.entry, coalesce(f.found, '') as why, o.waits
from asked o
join part p on p.identity = o.identity
join entry e on e.number = p.entry
cross join as_of a
left join fault f on f.entry = p.entry and f.sheet = p.sheet and f.row = p.row and f.part = p.part
where p.entry <= a.entry
