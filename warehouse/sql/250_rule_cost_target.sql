-- A cost is for something that nobody has told of yet, or in a currency without a rate.
select 'cost' as kind, c.identity,
    case when p.site_key is null and c.share_key is null then 'cost has no place yet' else 'cost has no rate' end as rule,
    'waits' as effect,
    case when p.site_key is null and c.share_key is null
        then 'the ' || c.for_kind || ' ' || c.for_key || ' that this cost was for is not known yet'
        else 'the programme has no rate for ' || c.currency || ' of ' || cast(c.happened as varchar) || ' or not long before' end as why
from cost_now c
left join cost_place p on p.identity = c.identity
left join cost_rate r on r.identity = c.identity
where (c.share_key is null and p.site_key is null) or (c.form <> 'hours' and r.identity is null)
