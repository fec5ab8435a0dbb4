-- one row per identity that its own drop, read again under a mended mapping, no longer tells of, nor any other drop
-- kept
with gone as (
    select x.identity, e.partner, e.drop, max(x.entry) as entry
    from asked x
    join entry e on e.number = x.entry
    cross join as_of a
    where e.retaken and not coalesce(x.held, false) and x.entry <= a.entry
    group by x.identity, e.partner, e.drop
), told as (  -- by that drop itself, read yet again, or by another whenever that came
    select g.identity, g.partner, g.drop
    from gone g
    join part p on p.identity = g.identity
    join entry e on e.number = p.entry
    cross join as_of a
    where p.fate <> 'faulty' and p.entry <= a.entry and (e.drop <> g.drop or e.partner <> g.partner or p.entry > g.entry)
    group by g.identity, g.partner, g.drop
)
select g.identity
from gone g
left join told t on t.identity = g.identity and t.partner = g.partner and t.drop = g.drop
group by g.identity
having count(t.identity) = 0
