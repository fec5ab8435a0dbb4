-- one row per identity that waits for a ruling and each thing said of it: what now counts, and what is held
with open_identity as (
    select distinct identity from held_open where fate in ('conflict', 'question')
)
select p.kind, p.key, p.identity, p.content,
    case when p.fate in ('entered', 'amends', 'repeated') then 'counts or counted' else p.fate end as said_as,
    p.partner, e.name, p.sheet, p.row, p.entry, coalesce(f.found, '') as why
from open_identity o
join part p on p.identity = o.identity
join entry e on e.number = p.entry
cross join as_of a
left join fault f on f.entry = p.entry and f.sheet = p.sheet and f.row = p.row and f.part = p.part
where p.entry <= a.entry
