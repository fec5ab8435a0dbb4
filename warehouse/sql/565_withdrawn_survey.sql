-- one row per survey event that was taken back, and where it was told
select p.identity, p.partner, split_part(p.key, ' | ', 1) as visit_key, p.entry, p.sheet, p.row, p.part
from part p
join withdrawn w on w.identity = p.identity
cross join as_of a
where p.kind = 'survey' and p.entry <= a.entry and p.fate in ('entered', 'amends')
