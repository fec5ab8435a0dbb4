-- one row per logger, place and local day: its readings that count and their sum, greatest step, usual interval and extremes
with stepped as (  -- ordered by few columns: this is the one sort over every reading
    select partner, logger_key, site_key, happened,
        lag(happened) over (partition by partner, logger_key, site_key order by read_at) as day_before,
        abs(value - lag(value) over (partition by partner, logger_key, site_key order by read_at)) as step,
        date_diff('second', date_trunc('second', lag(read_at) over (partition by partner, logger_key, site_key order by read_at)),
            date_trunc('second', read_at)) as gap_s
    from logger_reading
    where quantity = 'temperature' and left_out = ''
), gap as (  -- within a day alone, so that a day's figure rests on no other day's readings
    select partner, logger_key, site_key, happened, gap_s, count(*) as readings,
        max(case when gap_s <= 3600 then step end) as step
    from stepped
    where day_before = happened
    group by partner, logger_key, site_key, happened, gap_s
), of_month as (
    select partner, logger_key, site_key, extract(year from happened) as in_year, extract(month from happened) as in_month,
        gap_s, sum(readings) as readings
    from gap
    where gap_s > 0
    group by partner, logger_key, site_key, extract(year from happened), extract(month from happened), gap_s
), ranked as (
    select partner, logger_key, site_key, in_year, in_month, gap_s,
        row_number() over (
            partition by partner, logger_key, site_key, in_year, in_month order by readings desc, gap_s) as nth
    from of_month
), jump as (
    select partner, logger_key, site_key, happened, max(step) as step
    from gap
    group by partner, logger_key, site_key, happened
), told as (
    select partner, logger_key, site_key, happened,
        sum(case when left_out = '' and quantity = 'temperature' then readings else 0 end) as readings,
        sum(case when left_out = '' and quantity = 'temperature' then total end) as total,
        min(case when left_out = '' and quantity = 'lowest temperature of the day' then lowest end) as lowest,
        max(case when left_out = '' and quantity = 'highest temperature of the day' then highest end) as highest,
        sum(case when left_out = '' then uncalibrated else 0 end) as uncalibrated,
        max(case when left_out = '' then accuracy end) as accuracy,
        sum(case when left_out = '' then clock_off else 0 end) as clock_off
    from logger_told
    group by partner, logger_key, site_key, happened
)
select t.partner, t.logger_key, t.site_key, t.happened, t.readings, t.total, j.step, i.gap_s as usual_gap_s, t.lowest,
    t.highest, t.uncalibrated, t.accuracy, t.clock_off
from told t
left join jump j on j.partner = t.partner and j.logger_key = t.logger_key and j.site_key = t.site_key
    and j.happened = t.happened
left join ranked i on i.partner = t.partner and i.logger_key = t.logger_key and i.site_key = t.site_key
    and i.in_year = extract(year from t.happened) and i.in_month = extract(month from t.happened) and i.nth = 1
