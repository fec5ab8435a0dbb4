-- A unit names a batch of tissue that nobody has told of yet.
select distinct 'deployment' as kind, b.identity, 'unknown batch' as rule, 'caution' as effect,
    'the batch ' || b.batch_key || ' is not known yet' as why
from deployment_batch b
left join collection_now c on c.batch_key = b.batch_key
left join batch_parent p on p.batch_key = b.batch_key
where c.identity is null and p.batch_key is null
