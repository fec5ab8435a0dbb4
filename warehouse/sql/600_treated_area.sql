-- one row per site: treated area by the programme's rule; a plot planted twice counts its area once
with planted as (
    select d.site_key, d.plot_key, count(*) as units, sum(coalesce(d.unit_count, 1)) as pieces,
        sum(coalesce(d.area_treated_m2, cast(coalesce(d.unit_count, 1) * r.area_per_unit_m2 as decimal(18, 6)))) as by_unit_m2
    from deployment_stands d
    cross join setting r
    group by d.site_key, d.plot_key
)
select x.site_key, sum(x.units) as units,
    sum(case when r.treated_area_rule = 'plot area' then p.area_m2 else least(x.by_unit_m2, p.area_m2) end) as area_m2
from planted x
join plot_stands p on p.site_key = x.site_key and p.plot_key = x.plot_key and p.plot_kind = 'treated'
cross join setting r
group by x.site_key
