-- one row per place or sharing key, form, currency and rate: what was paid, in hundredths of the currency or of an hour
select p.site_key, cast(null as varchar) as share_key, c.form, c.currency, q.per_unit, q.dated as rate_dated,
    c.category, c.phase, cast(sum(c.amount * 100) as bigint) as hundredths, count(*) as costs
from cost_stands c
join one_place p on p.identity = c.identity
left join cost_rate q on q.identity = c.identity
where coalesce(c.actual_or_budget, 'actual') = 'actual'
group by p.site_key, c.form, c.currency, q.per_unit, q.dated, c.category, c.phase
union all
select cast(null as varchar) as site_key, c.share_key, c.form, c.currency, q.per_unit, q.dated as rate_dated,
    c.category, c.phase, cast(sum(c.amount * 100) as bigint) as hundredths, count(*) as costs
from cost_stands c
left join cost_rate q on q.identity = c.identity
where c.share_key is not null and coalesce(c.actual_or_budget, 'actual') = 'actual'
group by c.share_key, c.form, c.currency, q.per_unit, q.dated, c.category, c.phase
