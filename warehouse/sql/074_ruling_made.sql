-- one row per ruling: what it settled, what was chosen, by whom, why; holds is false where a later one replaced it
select r.settles, coalesce(min(p.kind), '') as kind, coalesce(min(p.key), r.settles) as key, r.choice, r.decided_by,
    r.reason, r.happened, r.entry, r.entry = max(n.entry) as holds
from ruling_said r
cross join as_of a
left join part p on p.identity = r.settles and p.kind <> 'ruling'
left join ruled n on n.identity = r.settles
where r.entry <= a.entry and r.fate in ('entered', 'amends') and r.partner = 'programme'
group by r.settles, r.choice, r.decided_by, r.reason, r.happened, r.entry
