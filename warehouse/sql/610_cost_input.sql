-- one row per place or sharing key and all that tells costs apart: what was paid, in hundredths of the currency or of an hour
-- kept
with placed as (
    select p.site_key, cast(null as varchar) as key, c.*
    from cost_told c
    join one_place p on p.identity = c.identity
    union all
    select cast(null as varchar) as site_key, c.share_key as key, c.*
    from cost_told c
    where c.share_key is not null
)
select site_key, key as share_key, form, currency, per_unit, rate_dated, category, phase, payer, method, year, month,
    bought_on, useful_life_years, cast(sum(hundredths) as bigint) as hundredths, count(*) as costs,
    sum(unnamed) as unnamed, sum(taxed) as taxed, sum(untaxed) as untaxed, sum(lifeless) as lifeless
from placed
group by site_key, key, form, currency, per_unit, rate_dated, category, phase, payer, method, year, month, bought_on,
    useful_life_years
