-- one row per identity that waits for a ruling: held as a conflict, and neither ruled nor said anew since
-- kept
with conflict as (
    select p.identity, max(p.entry) as entry
    from part p
    cross join as_of a
    where p.fate = 'conflict' and p.entry <= a.entry
    group by p.identity
), held_version as (
    select p.identity, max(p.entry) as entry, max(case when p.partner = 'programme' then 1 else 0 end) as by_programme
    from part p
    join conflict c on c.identity = p.identity
    cross join as_of a
    where p.fate in ('entered', 'amends') and p.entry <= a.entry
    group by p.identity
)
select c.identity, c.entry
from conflict c
left join held_version v on v.identity = c.identity
left join ruled r on r.identity = c.identity
where (v.entry is null or v.entry <= c.entry)
    and (r.entry is null or r.entry < c.entry)
    -- what the programme itself registers is not put in doubt by a partner's word
    and coalesce(v.by_programme, 0) = 0
