-- one row per logger, place and month: the usual seconds between its readings of temperature
with told as (
    select partner, logger_key, site_key, extract(year from happened) as in_year, extract(month from happened) as in_month,
        gap_s, sum(readings) as readings
    from logger_gap
    where quantity = 'temperature' and left_out = '' and gap_s > 0
    group by partner, logger_key, site_key, extract(year from happened), extract(month from happened), gap_s
), ranked as (
    select partner, logger_key, site_key, in_year, in_month, gap_s,
        row_number() over (
            partition by partner, logger_key, site_key, in_year, in_month order by readings desc, gap_s) as nth
    from told
)
select partner, logger_key, site_key, in_year, in_month, gap_s
from ranked
where nth = 1
