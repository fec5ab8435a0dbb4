-- one row per identity of which last words differ: of two partners, of one take-in with itself, or from what counts
-- kept
with said as (
    select identity, content, entry
    from last_word
    union all
    select q.identity, coalesce(s.content, p.content) as content, 0 as entry
    from quarrelled q
    left join settled s on s.identity = q.identity
    left join (
        select e.identity, min(e.content) as content
        from part e
        cross join as_of a
        where e.fate = 'entered' and e.entry <= a.entry
        group by e.identity
    ) p on p.identity = q.identity
)
select l.identity, max(l.entry) as entry
from said l
left join registered g on g.identity = l.identity
where g.identity is null and l.content is not null
group by l.identity
having count(distinct l.content) > 1 and max(l.entry) > 0
