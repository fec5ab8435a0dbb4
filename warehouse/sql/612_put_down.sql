-- one row per site and method: things put down, the pieces they were, and how many of them were lots without tags
select d.site_key, d.method, count(*) as units, sum(coalesce(d.unit_count, 1)) as pieces,
    count(case when coalesce(d.unit_count, 1) <> 1 then 1 end) as lots
from deployment_stands d
group by d.site_key, d.method
