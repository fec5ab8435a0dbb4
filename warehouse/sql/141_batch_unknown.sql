-- one row per batch and each batch upstream of it of which nobody told where it came from, or not all of it
select distinct u.batch_key, u.upstream_key as unknown_key
from batch_upstream u
left join collection_now c on c.batch_key = u.upstream_key
left join batch_parent p on p.batch_key = u.upstream_key
left join batch_upstream seen on seen.batch_key = u.batch_key and seen.upstream_key = p.parent_key
where (p.parent_key is null and c.identity is null)  -- neither cut nor made of others
    or (p.parent_key is not null and seen.upstream_key is null)  -- farther up than is followed
