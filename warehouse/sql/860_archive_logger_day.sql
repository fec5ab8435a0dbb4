-- one row per logger, site and local day: the mean of its published temperatures that count, and of how many
select n.logger_key, n.site_key, n.happened, min(n.teller) as teller, count(*) as readings,
    cast(sum(n.value) / nullif(count(*), 0) as decimal(18, 3)) as mean_degc, min(n.depth_m) as depth_min_m,
    max(n.depth_m) as depth_max_m, n.partner
from reading_archive_published n
join logger_reading g on g.identity = n.identity
where g.left_out = '' and n.quantity = 'temperature' and n.site_key is not null
group by n.partner, n.logger_key, n.site_key, n.happened
