-- one row per identity that is not simply what entered: the row that holds in its place; none of it if withdrawn, unread or in dispute
-- kept
with gone as (
    select identity from withdrawn
    union
    select identity from unread
    union
    select identity from in_dispute
)
select s.identity, s.entry, s.sheet, s.row, s.part
from settled s
left join gone g on g.identity = s.identity
left join settled_by_rule b on b.identity = s.identity
where g.identity is null and b.identity is null
union all
select b.identity, b.entry, b.sheet, b.row, b.part
from settled_by_rule b
left join gone g on g.identity = b.identity
where g.identity is null
union all
select g.identity, cast(null as bigint) as entry, cast(null as varchar) as sheet, cast(null as bigint) as row,
    cast(null as int) as part
from gone g
