-- one row per {kind} that stands, with or without caution
-- for each kind
-- kept for registers
select n.*
from {kind}_now n
left join waiting w on w.kind = '{kind}' and w.identity = n.identity
where w.identity is null
