-- one row per cutting's cost that several sites share, and site: the units from it that went there
select c.identity, c.form, c.currency, q.per_unit, q.dated as rate_dated, c.category, c.phase,
    cast(c.amount * 100 as bigint) as hundredths, p.site_key, sum(p.units) as units
from cost_stands c
join cost_place p on p.identity = c.identity
left join one_place o on o.identity = c.identity
left join cost_rate q on q.identity = c.identity
where o.identity is null and c.share_key is null and coalesce(c.actual_or_budget, 'actual') = 'actual'
group by c.identity, c.form, c.currency, q.per_unit, q.dated, c.category, c.phase, c.amount, p.site_key
