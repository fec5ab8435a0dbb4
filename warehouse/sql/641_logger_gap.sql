-- one row per logger, place, quantity, local day, reason to leave out, and seconds since the reading before it that day
-- kept
with stepped as (
    select partner, logger_key, site_key, quantity, happened, left_out, value, accuracy, calibrated_on, time_offset_s,
        abs(value - lag(value) over (
            partition by partner, logger_key, site_key, quantity, happened, left_out order by read_at)) as step,
        date_diff('second', lag(read_at) over (
            partition by partner, logger_key, site_key, quantity, happened, left_out order by read_at), read_at) as gap_s
    from logger_reading
)
select partner, logger_key, site_key, quantity, happened, left_out, gap_s, count(*) as readings, sum(value) as total,
    min(value) as lowest, max(value) as highest, max(case when gap_s <= 3600 then step end) as step,
    count(case when calibrated_on is null then 1 end) as uncalibrated, max(accuracy) as accuracy,
    count(case when abs(time_offset_s) >= 60 then 1 end) as clock_off
from stepped
group by partner, logger_key, site_key, quantity, happened, left_out, gap_s
