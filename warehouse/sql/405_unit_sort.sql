-- one row per tagged unit and sort it can be told by (fixing, substrate, depth, partner); value null where nobody told it
with told as (  -- partners may tell of a unit alike: the first name stands for all, whoever handed in first
    select p.identity, p.content, min(p.partner) as partner
    from part p
    cross join as_of a
    where p.kind = 'deployment' and p.fate <> 'faulty' and p.entry <= a.entry
    group by p.identity, p.content
)
select u.unit_key, 'fixing' as sort, u.fixing as value from unit u
union all
select u.unit_key, 'substrate' as sort, lower(trim(d.substrate)) as value
from unit u
join deployment_stands d on d.identity = u.identity
union all
select u.unit_key, 'depth' as sort, b.band as value
from unit u
join deployment_stands d on d.identity = u.identity
left join setting_depth_band b on d.depth_m >= b.from_m and (b.to_m is null or d.depth_m < b.to_m)
union all
select u.unit_key, 'partner' as sort, t.partner as value
from unit u
join deployment_stands d on d.identity = u.identity
join told t on t.identity = d.identity and t.content = d.content
