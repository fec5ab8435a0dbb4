-- one row per site with treated plots: the site of its reference plots, its own if it has any, else the nearest
with reference as (
    select distinct site_key from plot_stands where plot_kind = 'reference'
), near as (
    select t.site_key, r.site_key as reference_site,
        -- great circle on a sphere of 6371008.8 m: within 0.4 % of the ellipsoid, ample for this
        2 * 6371008.8 * asin(sqrt(least(1.0,
            power(sin(radians(cast(b.latitude - a.latitude as double)) / 2), 2)
            + cos(radians(cast(a.latitude as double))) * cos(radians(cast(b.latitude as double)))
            * power(sin(radians(cast(b.longitude - a.longitude as double)) / 2), 2)))) as metres
    from (select distinct site_key from plot_stands where plot_kind = 'treated') t
    cross join reference r
    join site_stands a on a.site_key = t.site_key
    join site_stands b on b.site_key = r.site_key
)
select site_key, reference_site, case when reference_site = site_key then 0.0 else metres end as metres
from (
    select n.*, row_number() over (partition by n.site_key
        order by case when n.reference_site = n.site_key then 0 else 1 end, n.metres, n.reference_site) as nth
    from near n
) ranked
where nth = 1
