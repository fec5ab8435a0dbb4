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
), of_drop as (  -- what each drop says, as it was read last
    select s.identity, s.partner, s.content, s.entry, s.drop, c.since
    from said s
    join came c on c.partner = s.partner and c.drop = s.drop
    join (
        select n.identity, n.partner, n.drop, max(n.entry) as entry from said n group by n.identity, n.partner, n.drop
    ) l on l.identity = s.identity and l.partner = s.partner and l.drop = s.drop and l.entry = s.entry
), newest as (
    select identity, partner, max(since) as since
    from of_drop
    group by identity, partner
), beside as (  -- two drops of one take-in that say different things: neither is the later word
    select e.partner, e.drop, c.drop as other from contradicts c join entry e on e.number = c.entry
    union
    select e.partner, c.drop, e.drop as other from contradicts c join entry e on e.number = c.entry
)
select distinct o.identity, o.partner, o.drop, o.content, o.entry, o.since
from of_drop o
join newest n on n.identity = o.identity and n.partner = o.partner
join of_drop l on l.identity = n.identity and l.partner = n.partner and l.since = n.since
left join beside b on b.partner = o.partner and b.drop = o.drop and b.other = l.drop
where o.since = n.since or b.drop is not null
