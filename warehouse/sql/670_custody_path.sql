-- one row per batch put down (or cut and never put down), each cutting upstream of it, and each batch between the two
with down as (
    select distinct b.batch_key from deployment_batch b join deployment_stands d on d.identity = b.identity
), ends as (
    select batch_key from down
    union
    select c.batch_key
    from collection_stands c
    left join (
        select distinct s.cutting_key from batch_source s join down d on d.batch_key = s.batch_key
    ) used on used.cutting_key = c.batch_key
    where used.cutting_key is null
)
select e.batch_key, s.cutting_key, u.upstream_key as between_key
from ends e
join batch_source s on s.batch_key = e.batch_key
join batch_upstream u on u.batch_key = e.batch_key
join batch_source x on x.batch_key = u.upstream_key and x.cutting_key = s.cutting_key
