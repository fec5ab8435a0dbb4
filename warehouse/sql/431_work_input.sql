-- one row per site, method and interval (l, r] in which units stopped working, of methods of which some unit was seen torn or empty
with told as (
    select w.unit_key, w.site_key, w.method, w.l, w.r, w.unresolved, w.called_whole_after, w.misses, w.absent_once,
        -- nobody could look for it since it was last seen whole
        case when w.r is null and w.failed_on > w.l then w.failed_on end as failed_on
    from unit_work w
    join (select method from unit_work where first_broken is not null group by method) m on m.method = w.method
)
select site_key, method, l, r, unresolved, failed_on, count(*) as units, sum(called_whole_after) as called_whole_after,
    sum(misses) as misses, sum(absent_once) as absent_once
from told
group by site_key, method, l, r, unresolved, failed_on
