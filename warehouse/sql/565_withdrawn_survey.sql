-- one row per survey event that was taken back: where it was told, of what its key says it was (null: nobody knows)
select p.identity, p.partner, split_part(p.key, ' | ', 1) as visit_key,
    nullif(split_part(p.key, ' | ', 4), '') as species,
    case when split_part(p.key, ' | ', 5) in ('recruit', 'juvenile', 'sub-canopy', 'canopy', 'any')
        then split_part(p.key, ' | ', 5) end as stage,
    p.entry, p.sheet, p.row, p.part
from part p
join withdrawn w on w.identity = p.identity
cross join as_of a
where p.kind = 'survey' and p.entry <= a.entry and p.fate in ('entered', 'amends')
