-- one row per logger, place, quantity, local day and reason to leave out: its readings and their sum, extremes and doubts
select partner, logger_key, site_key, quantity, happened, left_out, count(*) as readings, sum(value) as total,
    min(value) as lowest, max(value) as highest, count(case when calibrated_on is null then 1 end) as uncalibrated,
    max(accuracy) as accuracy, count(case when abs(time_offset_s) >= 60 then 1 end) as clock_off
from logger_reading
group by partner, logger_key, site_key, quantity, happened, left_out
