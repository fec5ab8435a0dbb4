-- one row per identity that waits for a ruling: last words on it differ, of two partners or of one file with itself
-- kept
with quarrelled as (
    select distinct p.identity
    from part p
    cross join as_of a
    where p.fate = 'conflict' and p.entry <= a.entry
), word as (  -- what was said since the last ruling; what the ruling chose is a word too
    select p.identity, p.partner, p.content, p.entry, p.fate
    from part p
    join quarrelled q on q.identity = p.identity
    cross join as_of a
    left join ruled r on r.identity = p.identity
    where p.fate in ('entered', 'amends', 'repeated', 'conflict') and p.entry <= a.entry
        and p.entry > coalesce(r.entry, 0)
    union all
    select r.identity, 'programme' as partner, r.content, r.entry, 'ruled' as fate
    from ruled r
    join quarrelled q on q.identity = r.identity
    where r.content is not null
), agreed as (  -- a partner's last word that was not itself a conflict ends those before it
    select identity, partner, max(entry) as entry
    from word
    where fate <> 'conflict'
    group by identity, partner
), last_word as (
    select w.identity, w.content, w.entry
    from word w
    left join agreed g on g.identity = w.identity and g.partner = w.partner
    where w.entry >= coalesce(g.entry, 0)
)
select l.identity, max(l.entry) as entry
from last_word l
left join registered g on g.identity = l.identity
where g.identity is null
group by l.identity
having count(distinct l.content) > 1
