-- one row per form and rate: what the whole programme paid, in hundredths of the currency or of an hour
select c.form, q.per_unit, cast(sum(c.amount * 100) as bigint) as hundredths, count(*) as costs
from cost_stands c
left join cost_rate q on q.identity = c.identity
where coalesce(c.actual_or_budget, 'actual') = 'actual'
group by c.form, q.per_unit
