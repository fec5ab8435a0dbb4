-- one row per {kind} that stands and that is not published: of whom it is
-- for each event
select n.identity, n.partner, n.happened
from {kind}_stands n
left join {kind}_archive_published p on p.identity = n.identity
where p.identity is null
