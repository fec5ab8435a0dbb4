-- one row per held part that a person dismissed by the asked entry: receipt/row/part, or receipt/sheet/row/part
select distinct substr(r.settles, 6) as held_name
from ruling_said r
cross join as_of a
where r.entry <= a.entry and r.fate in ('entered', 'amends') and r.partner = 'programme' and substr(r.settles, 1, 5) = 'held '
