-- one row per partner, file and cause of what is held: an instance, and how many parts
select h.partner, h.name, h.kind, coalesce(nullif(f.heading, ''), f.column) as column_named, f.code,
    min(coalesce(nullif(f.found, ''), f.wanted)) as instance,
    count(distinct cast(h.row as varchar) || '/' || cast(h.part as varchar)) as parts
from held_open h
join fault f on f.entry = h.entry and f.sheet = h.sheet and f.row = h.row and f.part = h.part
group by h.partner, h.name, h.kind, coalesce(nullif(f.heading, ''), f.column), f.code
