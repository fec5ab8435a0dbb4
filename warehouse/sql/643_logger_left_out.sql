-- one row per logger, place, local day and reason: how many readings no figure uses
select partner, logger_key, site_key, happened, left_out as why, sum(readings) as readings
from logger_told
where left_out <> ''
group by partner, logger_key, site_key, happened, left_out
