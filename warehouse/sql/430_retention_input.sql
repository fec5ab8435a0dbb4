-- one row per site, method and interval (l, r]: how many units share it
select site_key, method, l, r, unresolved, count(*) as units, sum(misses) as misses
from unit_life
group by site_key, method, l, r, unresolved
