-- one row per site, round and protocol of treated plots: the survey of reference plots in that round or, the last, in that season
with laid as (
    select distinct f.site_key, f.plot_kind, f.round_on, f.protocol, s.season
    from frame f
    join round_season s on s.site_key = f.site_key and s.round_on = f.round_on
    where f.placement <> 'at unit' and f.plot_kind in ('treated', 'reference')
)
select t.site_key, t.round_on, t.protocol, r.reference_site, r.metres,
    coalesce(
        max(case when f.site_key = t.site_key and f.round_on = t.round_on then f.round_on end),
        max(case when f.season = t.season then f.round_on end)) as reference_on
from laid t
join reference_site r on r.site_key = t.site_key
left join laid f on f.site_key = r.reference_site and f.protocol = t.protocol and f.plot_kind = 'reference'
where t.plot_kind = 'treated'
group by t.site_key, t.round_on, t.protocol, r.reference_site, r.metres
