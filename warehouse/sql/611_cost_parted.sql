-- one row per cutting's cost that several sites share, and site: the units from it that went there
-- kept
select c.identity, c.form, c.currency, c.per_unit, c.rate_dated, c.category, c.phase, c.payer, c.year, c.month,
    c.bought_on, c.useful_life_years, c.hundredths, c.unnamed, c.taxed, c.untaxed, c.lifeless, p.site_key,
    sum(p.units) as units
from cost_told c
join cost_place p on p.identity = c.identity
left join one_place o on o.identity = c.identity
where o.identity is null and c.share_key is null
group by c.identity, c.form, c.currency, c.per_unit, c.rate_dated, c.category, c.phase, c.payer, c.year, c.month,
    c.bought_on, c.useful_life_years, c.hundredths, c.unnamed, c.taxed, c.untaxed, c.lifeless, p.site_key
