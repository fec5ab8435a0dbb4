-- Nobody has told how a batch was kept between cutting and release.
select 'deployment' as kind, b.identity, 'gap in the cold chain' as rule, 'caution' as effect,
    'how batch ' || b.batch_key || ' was kept between cutting and release is not told' as why
from deployment_batch b
join collection_now c on c.batch_key = b.batch_key
left join handling_now h on h.batch_key = b.batch_key and h.step in ('hold', 'carry')
where h.identity is null
