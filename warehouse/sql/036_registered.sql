-- one row per identity that the programme itself told of: what it registers is not put in doubt by a partner's word
-- kept
select distinct p.identity
from part p
cross join as_of a
where p.partner = 'programme' and p.fate in ('entered', 'amends', 'repeated') and p.entry <= a.entry
    and p.identity is not null
