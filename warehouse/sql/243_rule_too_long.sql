-- Tissue waited longer between cutting and release than the programme allows.
select 'deployment' as kind, x.identity, 'too long to release' as rule, 'caution' as effect,
    'unit ' || x.unit_key || ' was released ' || cast(x.minutes // 60 as varchar) || ' h after its tissue was cut; '
        || cast(cast(r.most_hours_to_release as decimal(9, 0)) as varchar) || ' h is the rule' as why
from (
    select d.identity, d.unit_key,
        max(date_diff('minute', date_trunc('minute', coalesce(c.cut_to, c.cut_from, c.happened_at)),
            date_trunc('minute', coalesce(d.opened_at, d.down_at)))) as minutes
    from deployment_now d
    join deployment_batch b on b.identity = d.identity
    join batch_source s on s.batch_key = b.batch_key
    join collection_now c on c.batch_key = s.cutting_key
    left join batch_parent p on p.batch_key = b.batch_key
    where p.batch_key is null  -- cultured or mixed stock is not fresh tissue
        and coalesce(c.cut_to, c.cut_from, c.happened_at) is not null and coalesce(d.opened_at, d.down_at) is not null
    group by d.identity, d.unit_key
) x
cross join setting r
where x.minutes > r.most_hours_to_release * 60
