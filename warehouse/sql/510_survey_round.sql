-- one row per site and survey day: the first day of its round; a gap longer than the programme's begins a new round
-- kept
with day as (
    select distinct site_key, happened from counted
), marked as (
    select d.site_key, d.happened,
        case when date_diff('day', lag(d.happened) over (partition by d.site_key order by d.happened), d.happened)
            <= r.survey_round_days then 0 else 1 end as begins
    from day d
    cross join setting r
), numbered as (
    select site_key, happened,
        sum(begins) over (partition by site_key order by happened rows between unbounded preceding and current row) as nth
    from marked
)
select site_key, happened, min(happened) over (partition by site_key, nth) as round_on
from numbered
