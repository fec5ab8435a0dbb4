-- one row per site, method and interval (l, r] of units, and day of a search since that did not find the site: how many
select site_key, method, l, r, unresolved, failed_on, count(*) as units, sum(misses) as misses,
    sum(absent_once) as absent_once
from unit_life
group by site_key, method, l, r, unresolved, failed_on
