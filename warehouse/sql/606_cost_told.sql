-- one row per cost that stands and was paid: in hundredths of its currency or of an hour; who bore it, for what, at which rate
select c.identity, c.share_key, c.form, c.currency, q.per_unit, q.dated as rate_dated, c.category, c.phase,
    coalesce(c.paid_by, c.partner) as payer, d.method, extract(year from c.happened) as year,
    extract(month from c.happened) as month,
    case when c.useful_life_years is not null then c.happened end as bought_on, c.useful_life_years,
    cast(round(c.amount * 100) as bigint) as hundredths, case when c.paid_by is null then 1 else 0 end as unnamed,
    case when c.tax_included then 1 else 0 end as taxed, case when not c.tax_included then 1 else 0 end as untaxed,
    case when c.phase = 'capital' and c.useful_life_years is null then 1 else 0 end as lifeless
from cost_stands c
left join cost_rate q on q.identity = c.identity
left join deployment_now d on c.for_kind = 'deployment' and d.unit_key = c.for_key
where coalesce(c.actual_or_budget, 'actual') = 'actual'
