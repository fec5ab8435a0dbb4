-- one row per batch, site and day on which units of it were put down: when they were opened on the bottom
select b.batch_key, d.site_key, d.happened, count(*) as units,
    count(d.opened_at) as opened, count(coalesce(d.opened_at, d.down_at)) as timed,
    min(coalesce(d.opened_at, d.down_at)) as first_at, max(coalesce(d.opened_at, d.down_at)) as last_at,
    max(d.boat_temp_degc) as boat_degc
from deployment_batch b
join deployment_stands d on d.identity = b.identity
group by b.batch_key, d.site_key, d.happened
