-- one row per site that was not found again: the first search that failed since it was last found
select v.site_key, min(v.happened) as first_failed
from visit_any v
left join (
    select site_key, max(happened) as found_on from visit_any where outcome = 'found' group by site_key
) f on f.site_key = v.site_key
where v.outcome = 'not found' and (f.found_on is null or v.happened > f.found_on)
group by v.site_key
