-- one row per identity with more than one version or a ruling: the one row that holds as of the asked entry
-- kept
with many as (
    select p.identity
    from part p
    cross join as_of a
    where p.fate = 'amends' and p.entry <= a.entry
    union
    select identity from ruled where content is not null
), candidate as (
    select p.identity, p.content, p.entry, p.sheet, p.row, p.part, p.partner, p.entry as since
    from part p
    join many m on m.identity = p.identity
    cross join as_of a
    where p.fate in ('entered', 'amends') and p.entry <= a.entry
    union all
    select p.identity, p.content, p.entry, p.sheet, p.row, p.part, p.partner, r.entry as since
    from part p
    join ruled r on r.identity = p.identity and r.content = p.content
    cross join as_of a
    where p.fate in ('entered', 'amends', 'conflict', 'question') and p.entry <= a.entry
), ranked as (
    select c.identity, c.content, c.entry, c.sheet, c.row, c.part, c.partner, c.since,
        row_number() over (
            partition by c.identity order by c.since desc, c.entry, c.sheet, c.row, c.part) as newest
    from candidate c
    left join later_register l on l.entry = c.entry and l.sheet = c.sheet and l.row = c.row and l.part = c.part
    where l.entry is null
)
select identity, content, entry, sheet, row, part, partner, since
from ranked
where newest = 1
