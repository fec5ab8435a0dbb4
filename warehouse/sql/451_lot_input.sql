-- one row per site, method and day on which untagged lots were counted: how many, their pieces, what was found in which area
with put_down as (
    select k.site_key, k.method, k.day, count(distinct d.unit_key) as lots_down
    from (select distinct site_key, method, day from lot_look) k
    join deployment_stands d on d.site_key = k.site_key and d.method = k.method
    where d.unit_count > 1 and d.happened <= k.day
    group by k.site_key, k.method, k.day
)
select k.site_key, k.method, k.day, count(case when k.found is not null then 1 end) as lots, p.lots_down,
    sum(case when k.found is null then 0 else k.pieces end) as pieces, sum(k.found) as found,
    sum(case when k.found is null then null else k.area_m2 end) as area_m2,
    count(case when k.found is not null and k.area_m2 is null then 1 end) as without_area,
    count(case when k.found > k.pieces then 1 end) as too_many,
    count(case when k.found is null then 1 end) as uncounted,
    min(date_diff('day', k.down_on, k.day)) as youngest, max(date_diff('day', k.down_on, k.day)) as oldest
from lot_look k
join put_down p on p.site_key = k.site_key and p.method = k.method and p.day = k.day
group by k.site_key, k.method, k.day, p.lots_down
