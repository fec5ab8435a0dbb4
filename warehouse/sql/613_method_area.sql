-- one row per site and method: its units, those in treated plots where it alone was put down, and the treated area of these plots
with planted as (
    select d.site_key, d.plot_key, d.method, count(*) as units,
        sum(coalesce(d.area_treated_m2, cast(coalesce(d.unit_count, 1) * r.area_per_unit_m2 as decimal(18, 6)))) as by_unit_m2
    from deployment_stands d
    cross join setting r
    group by d.site_key, d.plot_key, d.method
), marked as (
    select p.site_key, p.method, p.units, p.by_unit_m2, t.area_m2,
        case when t.plot_key is not null and min(p.method) over (partition by p.site_key, p.plot_key)
            = max(p.method) over (partition by p.site_key, p.plot_key) then 1 else 0 end as alone
    from planted p
    left join plot_stands t on t.site_key = p.site_key and t.plot_key = p.plot_key and t.plot_kind = 'treated'
)
select m.site_key, m.method, sum(m.units) as units, sum(m.alone * m.units) as units_alone,
    sum(case when m.alone = 0 then null when r.treated_area_rule = 'plot area' then m.area_m2
        else least(m.by_unit_m2, m.area_m2) end) as area_m2
from marked m
cross join setting r
group by m.site_key, m.method
