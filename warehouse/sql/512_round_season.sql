-- one row per site and round: its season, as the year and month in which that began, and that month alone
select x.site_key, x.round_on, m.began as season_month,
    cast(extract(year from x.round_on) - m.wraps as varchar) || case when m.began < 10 then '-0' else '-' end
        || cast(m.began as varchar) as season
from (select distinct site_key, round_on from survey_round) x
join setting_season m on m.month = extract(month from x.round_on)
