-- one row per sort (fixing, substrate, depth, partner), its value, site, method and interval (l, r] of units: how many
select s.sort, s.value, u.site_key, u.method, u.l, u.r, u.unresolved, u.failed_on, count(*) as units,
    sum(u.misses) as misses, sum(u.absent_once) as absent_once
from unit_sort s
join unit_life u on u.unit_key = s.unit_key
group by s.sort, s.value, u.site_key, u.method, u.l, u.r, u.unresolved, u.failed_on
