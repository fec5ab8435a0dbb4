-- one row per step of a batch whose vessel, or whose batch, is named like a logger: what the logger read while it lasted
with named as (
    select identity, lower(trim(vessel)) as logger, started_at, ended_at from handling_stands where vessel is not null
    union
    select identity, lower(trim(batch_key)) as logger, started_at, ended_at from handling_stands
)
select n.identity, min(r.value) as coolest, max(r.value) as warmest, count(*) as readings
from named n
join reading_stands r on lower(trim(r.logger_key)) = n.logger and r.at >= n.started_at and r.at <= n.ended_at
where r.quantity = 'temperature' and lower(trim(r.unit)) = 'degc' and coalesce(r.flag, 'good') <> 'bad'
group by n.identity
