-- one row per held part that is still open: nobody said its thing since, its file did not come again, no ruling spoke
with held as (
    select p.entry, p.partner, e.name, e.drop, p.sheet, p.row, p.part, p.kind, p.fate, p.identity, p.key,
        cast(p.entry as varchar) || '/' || case when p.sheet = '' then '' else p.sheet || '/' end
            || cast(p.row as varchar) || '/' || cast(p.part as varchar) as held_name
    from part p
    join entry e on e.number = p.entry
    cross join as_of a
    where p.fate in ('faulty', 'conflict', 'question') and p.entry <= a.entry
), said as (
    select p.identity, max(p.entry) as entry
    from part p
    cross join as_of a
    where p.fate in ('entered', 'amends', 'repeated') and p.entry <= a.entry
    group by p.identity
), came_again as (
    select e.partner, e.name, max(e.number) as entry
    from (select distinct entry from part) p  -- a file that could not be read brings nothing back
    join entry e on e.number = p.entry
    cross join as_of a
    where e.number <= a.entry
    group by e.partner, e.name
)
select h.*
from held h
left join said s on s.identity = h.identity
left join came_again c on c.partner = h.partner and c.name = h.name
left join ruled r on r.identity = h.identity
left join dismissed d on d.held_name = h.held_name
where d.held_name is null
    and coalesce(c.entry, 0) <= h.entry
    and coalesce(r.entry, 0) <= h.entry
    and (s.entry is null or (h.fate <> 'faulty' and s.entry <= h.entry))
