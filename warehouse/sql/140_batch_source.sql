-- one row per batch and each cutting upstream of it, itself included; four steps of mixing are followed
with step0 as (
    select batch_key, batch_key as source_key from collection_now
    union
    select batch_key, parent_key as source_key from batch_parent
), step1 as (
    select batch_key, source_key from step0
    union
    select s.batch_key, p.parent_key as source_key from step0 s join batch_parent p on p.batch_key = s.source_key
), step2 as (
    select batch_key, source_key from step1
    union
    select s.batch_key, p.source_key from step1 s join step1 p on p.batch_key = s.source_key
)
select distinct s.batch_key, c.batch_key as cutting_key
from step2 s
join collection_now c on c.batch_key = s.source_key
