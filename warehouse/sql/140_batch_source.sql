-- one row per batch and each cutting upstream of it, itself included
select u.batch_key, c.batch_key as cutting_key
from batch_upstream u
join collection_now c on c.batch_key = u.upstream_key
