-- one row per form, currency and rate: what was planned to be paid, in hundredths, and how many lines planned it
select c.form, c.currency, q.per_unit, q.dated as rate_dated, cast(round(sum(c.amount * 100)) as bigint) as hundredths,
    count(*) as costs
from cost_stands c
left join cost_rate q on q.identity = c.identity
where c.actual_or_budget = 'budget'
group by c.form, c.currency, q.per_unit, q.dated
