-- one row per form and rate: what the whole programme paid, in hundredths of the currency or of an hour
select form, per_unit, cast(sum(hundredths) as bigint) as hundredths, count(*) as costs
from cost_told
group by form, per_unit
