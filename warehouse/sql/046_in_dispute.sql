-- one row per identity that waits for a ruling: it is told differently, and no rule of the programme settles it
-- kept
select d.identity, d.entry
from differing d
left join settled_by_rule b on b.identity = d.identity
where b.identity is null
