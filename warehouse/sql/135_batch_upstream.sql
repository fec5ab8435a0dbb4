-- one row per batch and each batch upstream of it, itself included; four steps of mixing are followed
-- kept
with named as (
    select batch_key from collection_now
    union
    select batch_key from handling_now
    union
    select parent_key as batch_key from batch_parent
    union
    select batch_key from deployment_batch
), step1 as (
    select batch_key, batch_key as upstream_key from named
    union
    select batch_key, parent_key as upstream_key from batch_parent
), step2 as (
    select batch_key, upstream_key from step1
    union
    select s.batch_key, p.upstream_key from step1 s join step1 p on p.batch_key = s.upstream_key
)
select batch_key, upstream_key from step2
union
select s.batch_key, p.upstream_key from step2 s join step2 p on p.batch_key = s.upstream_key
