-- one row per identity that was ever held as a conflict
-- kept
select distinct p.identity
from part p
cross join as_of a
where p.fate = 'conflict' and p.entry <= a.entry
