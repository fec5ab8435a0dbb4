-- one row per batch put down or cut, and per site planted, and each cutting or unknown batch upstream of it
with wanted as (
    select cast(null as varchar) as site_key, batch_key from collection_now
    union
    select cast(null as varchar) as site_key, b.batch_key
    from deployment_batch b join deployment_stands d on d.identity = b.identity
    union
    select d.site_key, b.batch_key
    from deployment_batch b join deployment_stands d on d.identity = b.identity
)
select distinct w.site_key, case when w.site_key is null then w.batch_key end as batch_key, s.cutting_key as source_key,
    c.bed_key, c.parents, c.plants_cut, c.identity is not null as known
from wanted w
join batch_source s on s.batch_key = w.batch_key
left join collection_stands c on c.batch_key = s.cutting_key
union
select distinct w.site_key, case when w.site_key is null then w.batch_key end as batch_key, u.unknown_key as source_key,
    cast(null as varchar) as bed_key, cast(null as bigint) as parents, cast(null as bigint) as plants_cut, false as known
from wanted w
join batch_unknown u on u.batch_key = w.batch_key
