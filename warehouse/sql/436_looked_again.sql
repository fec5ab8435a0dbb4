-- one row per site and method: looks at units known to be there (seen later), and those of them that found nothing
with found as (
    select s.unit_key, count(*) as times
    from sighting s
    join unit_life u on u.unit_key = s.unit_key
    where date_diff('day', u.down_on, s.day) < u.l
    group by s.unit_key
)
select u.site_key, u.method, sum(u.misses) as misses, sum(coalesce(f.times, 0)) as found
from unit_life u
left join found f on f.unit_key = u.unit_key
where u.unresolved = ''
group by u.site_key, u.method
