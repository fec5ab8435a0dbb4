-- one row per untagged lot and day it was searched for: pieces put down and found (null: not counted), and the area searched
select d.unit_key, d.site_key, d.method, d.happened as down_on, d.unit_count as pieces, c.happened as day,
    max(case when c.state = 'absent' then coalesce(c.count_found, 0) else c.count_found end) as found,
    max(c.area_searched_m2) as area_m2
from deployment_stands d
join check_stands c on c.unit_key = d.unit_key
where d.unit_count > 1 and c.state not in ('not searched', 'retrieved')
group by d.unit_key, d.site_key, d.method, d.happened, d.unit_count, c.happened
