-- one row per site, round and preparation that only one of its treated and control plots had by the end of the round
with span as (
    select site_key, round_on, max(happened) as until from survey_round group by site_key, round_on
), done as (
    select q.site_key, q.round_on, t.action,
        max(case when p.plot_kind = 'treated' then 1 else 0 end) as on_treated,
        max(case when p.plot_kind = 'control' then 1 else 0 end) as on_control
    from span q
    join treatment_stands t on t.site_key = q.site_key and t.happened <= q.until
    join plot_stands p on p.site_key = t.site_key and p.plot_key = t.plot_key
    where p.plot_kind in ('treated', 'control')
    group by q.site_key, q.round_on, t.action
)
select site_key, round_on, action
from done
where on_treated <> on_control
