-- Tissue became warmer between cutting and release than the programme allows.
select 'deployment' as kind, x.identity, 'too warm' as rule, 'caution' as effect,
    'the tissue of unit ' || x.unit_key || ' reached ' || cast(cast(x.warmest as decimal(9, 1)) as varchar)
        || ' degC; ' || cast(cast(r.warmest_degc as decimal(9, 1)) as varchar) || ' degC is the rule' as why
from (
    select identity, unit_key, max(warmest) as warmest
    from (
        select d.identity, d.unit_key, h.temp_max_degc as warmest
        from deployment_now d
        join deployment_batch b on b.identity = d.identity
        join handling_now h on h.batch_key = b.batch_key
        where h.step in ('clean', 'dry', 'hold', 'carry', 'release')
        union all
        select d.identity, d.unit_key, d.boat_temp_degc as warmest from deployment_now d
    ) told
    where warmest is not null
    group by identity, unit_key
) x
cross join setting r
where x.warmest > r.warmest_degc
