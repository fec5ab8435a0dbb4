-- one row per site, round, plot and method put down there by the end of the round: pieces, first day, whether no other was
-- kept
with span as (
    select site_key, round_on, max(happened) as until from survey_round group by site_key, round_on
), down as (
    select q.site_key, q.round_on, d.plot_key, d.method, sum(coalesce(d.unit_count, 1)) as pieces,
        min(d.happened) as first_down
    from span q
    join deployment_stands d on d.site_key = q.site_key and d.happened <= q.until
    group by q.site_key, q.round_on, d.plot_key, d.method
)
select site_key, round_on, plot_key, method, pieces, first_down,
    case when min(method) over (partition by site_key, round_on, plot_key)
        = max(method) over (partition by site_key, round_on, plot_key) then 1 else 0 end as alone
from down
