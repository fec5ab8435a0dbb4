-- one row per unit with a position: how far it lies from its site, and how far it may, in metres
select d.identity, d.unit_key, d.site_key,
    cast(s.radius_m + s.uncertainty_m + d.uncertainty_m as double) as allowed,
    -- great circle on a sphere of 6371008.8 m: within 0.4 % of the ellipsoid, ample for this
    2 * 6371008.8 * asin(sqrt(least(1.0,
        power(sin(radians(cast(d.latitude - s.latitude as double)) / 2), 2)
        + cos(radians(cast(s.latitude as double))) * cos(radians(cast(d.latitude as double)))
        * power(sin(radians(cast(d.longitude - s.longitude as double)) / 2), 2)))) as metres
from deployment_now d
join site_now s on s.site_key = d.site_key
where d.latitude is not null and d.uncertainty_m is not null
