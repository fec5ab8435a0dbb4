-- one row per {kind} that stands and that one of its tellers agreed to publish by now; teller: the first of their names
-- for each kind
with told as (
    select n.identity, min(p.partner) as teller
    from {kind}_stands n
    join part p on p.kind = '{kind}' and p.identity = n.identity and p.content = n.content
    join setting_publish s on s.partner = p.partner
    cross join as_of a
    where p.entry <= a.entry and p.fate <> 'faulty' and (n.happened is null or n.happened <= s.open_until)
    group by n.identity
)
select n.*, t.teller
from {kind}_stands n
join told t on t.identity = n.identity
