-- one row per unit whose putting down two partners tell of differently, until a ruling says how it was
select distinct d.unit_key
from deployment_said d
join in_dispute q on q.identity = d.identity
cross join as_of a
where d.entry <= a.entry
