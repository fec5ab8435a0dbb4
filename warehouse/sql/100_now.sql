-- one row per {kind} that is current as of the asked day and entry: not superseded, withdrawn, unread or in dispute
-- for each kind
-- kept for registers
-- kept where all is small
select k.*
from {kind}_said k
cross join as_of a
left join set_aside s on s.identity = k.identity
where k.entry <= a.entry
    and (k.happened is null or k.happened <= a.{day})
    and (
        (s.identity is null and k.fate in ('entered', 'amends'))
        or (s.entry = k.entry and s.sheet = k.sheet and s.row = k.row and s.part = k.part)
    )
