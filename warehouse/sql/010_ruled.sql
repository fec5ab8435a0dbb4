-- one row per identity that a ruling settled by the asked entry: the newest ruling; content is null for "none"
-- kept
select identity, content, entry
from (
    select r.settles as identity, nullif(r.choice, 'none') as content, r.entry,
        row_number() over (partition by r.settles order by r.entry desc, r.row desc, r.part desc) as newest
    from ruling_said r
    cross join as_of a
    where r.entry <= a.entry and r.fate in ('entered', 'amends') and r.partner = 'programme'
) ranked
where newest = 1
