-- one row per identity taken back by all who said what counts of it, or by the programme, unless a later ruling brought it back
-- kept
with touched as (
    select distinct p.identity
    from take_back w
    join part p on p.kind = w.withdraws_kind and p.key = w.withdraws_key
), counting as (
    select s.identity, s.content
    from touched t
    join settled s on s.identity = t.identity
    union
    select p.identity, p.content
    from touched t
    join part p on p.identity = t.identity
    cross join as_of a
    left join settled s on s.identity = t.identity
    where p.fate in ('entered', 'amends') and p.entry <= a.entry and s.identity is null
), teller as (  -- who said it first is chance: a word that a second partner repeated is the second partner's too
    select p.identity, p.partner, max(w.entry) as entry
    from counting c
    join part p on p.identity = c.identity and p.content = c.content
    cross join as_of a
    left join take_back w on w.withdraws_kind = p.kind and w.withdraws_key = p.key and w.partner in (p.partner, 'programme')
    where p.entry <= a.entry and p.fate <> 'faulty'
    group by p.identity, p.partner
)
select t.identity, max(t.entry) as entry
from teller t
left join ruled r on r.identity = t.identity and r.content is not null
group by t.identity
having count(t.entry) = count(*) and max(t.entry) > coalesce(max(r.entry), 0)
