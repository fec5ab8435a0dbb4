-- one row per quarrelled identity, partner, drop and content: what each said last, since a ruling; two where one take-in told two
-- kept
with came as (  -- a drop read again speaks for the day it first came: what was said since in another drop is newer
    select e.partner, e.drop, min(e.number) as since
    from entry e
    cross join as_of a
    where e.number <= a.entry
    group by e.partner, e.drop
), said as (
    select p.identity, p.partner, p.content, p.entry, e.drop
    from quarrelled q
    join part p on p.identity = q.identity
    join entry e on e.number = p.entry
    cross join as_of a
    left join ruled r on r.identity = p.identity
    where p.fate in ('entered', 'amends', 'repeated', 'conflict') and p.entry <= a.entry
        and p.entry > coalesce(r.entry, 0)
    union
    select p.identity, p.partner, p.content, r.entry, e.drop  -- what a ruling chose, or left, is the word of all who told it
    from quarrelled q
    join ruled r on r.identity = q.identity
    left join settled s on s.identity = q.identity
    join part p on p.identity = r.identity and p.content = coalesce(r.content, s.content, p.content)
    join entry e on e.number = p.entry
    where p.entry < r.entry
        and (p.fate in ('entered', 'amends', 'repeated') or (r.content is not null and p.fate in ('conflict', 'question')))
), unsaid as (  -- what a drop no longer says since it was read again
    select x.identity, e.partner, e.drop, x.entry
    from asked x
    join entry e on e.number = x.entry
    cross join as_of a
    where e.retaken and x.entry <= a.entry
), of_drop as (  -- what each drop says, as it was read last
    select s.identity, s.partner, s.content, s.entry, s.drop, c.since
    from said s
    join came c on c.partner = s.partner and c.drop = s.drop
    join (
        select n.identity, n.partner, n.drop, max(n.entry) as entry from said n group by n.identity, n.partner, n.drop
    ) l on l.identity = s.identity and l.partner = s.partner and l.drop = s.drop and l.entry = s.entry
    left join taken_word t on t.identity = s.identity and t.partner = s.partner
    left join unsaid u on u.identity = s.identity and u.partner = s.partner and u.drop = s.drop and u.entry > s.entry
    where t.identity is null and u.identity is null
), newest as (
    select identity, partner, max(since) as since
    from of_drop
    group by identity, partner
), beside as (  -- two drops of one take-in that say different things of it: neither is the later word
    select distinct p.identity, e.partner, e.drop as one, c.drop as other
    from contradicts c
    join entry e on e.number = c.entry
    join part p on p.entry = c.entry and p.fate = 'conflict'
    join quarrelled q on q.identity = p.identity
    join part o on o.identity = p.identity and o.partner = e.partner and o.fate = 'conflict' and o.content <> p.content
    join entry f on f.number = o.entry and f.drop = c.drop
    cross join as_of a
    where c.entry <= a.entry and o.entry <= a.entry
), either as (
    select identity, partner, one, other from beside
    union
    select identity, partner, other as one, one as other from beside
)
select distinct o.identity, o.partner, o.drop, o.content, o.entry, o.since
from of_drop o
join newest n on n.identity = o.identity and n.partner = o.partner
join of_drop l on l.identity = n.identity and l.partner = n.partner and l.since = n.since
left join either b on b.identity = o.identity and b.partner = o.partner and b.one = o.drop and b.other = l.drop
where o.since = n.since or b.one is not null
