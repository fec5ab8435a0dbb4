-- one row per logger, place and local day: its readings that count and their sum, its extremes, and how many are left out
select g.partner, g.logger_key, g.site_key, g.happened,
    sum(case when g.left_out = '' and g.quantity = 'temperature' then g.readings else 0 end) as readings,
    sum(case when g.left_out = '' and g.quantity = 'temperature' then g.total end) as total,
    max(case when g.left_out = '' and g.quantity = 'temperature' then g.step end) as step,
    min(i.gap_s) as usual_gap_s,
    min(case when g.left_out = '' and g.quantity = 'lowest temperature of the day' then g.lowest end) as lowest,
    max(case when g.left_out = '' and g.quantity = 'highest temperature of the day' then g.highest end) as highest,
    sum(case when g.left_out = '' then g.uncalibrated else 0 end) as uncalibrated,
    max(case when g.left_out = '' then g.accuracy end) as accuracy,
    sum(case when g.left_out = '' then g.clock_off else 0 end) as clock_off
from logger_gap g
left join logger_interval i on i.partner = g.partner and i.logger_key = g.logger_key and i.site_key = g.site_key
    and i.in_year = extract(year from g.happened) and i.in_month = extract(month from g.happened)
group by g.partner, g.logger_key, g.site_key, g.happened
