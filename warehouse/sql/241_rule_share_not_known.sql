-- A bed without an estimate of its plants or blades gives no share, never one under the limit.
select 'collection' as kind, c.identity, 'share not known' as rule, 'caution' as effect,
    'bed ' || c.bed_key || ' has no estimate of its plants or blades, so the share taken is not known' as why
from collection_now c
join bed_now b on b.bed_key = c.bed_key
where b.fertile is null and b.adults is null and b.blades is null
