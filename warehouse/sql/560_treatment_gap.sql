-- one row per site, round and preparation that its treated plots had by then and its control plots had not
with done as (
    select q.site_key, q.round_on, p.plot_kind, t.action
    from (select distinct site_key, round_on from survey_round) q
    join treatment_stands t on t.site_key = q.site_key and t.happened <= q.round_on
    join plot_stands p on p.site_key = t.site_key and p.plot_key = t.plot_key
    group by q.site_key, q.round_on, p.plot_kind, t.action
)
select a.site_key, a.round_on, a.action
from done a
left join done b on b.site_key = a.site_key and b.round_on = a.round_on and b.action = a.action and b.plot_kind = 'control'
where a.plot_kind = 'treated' and b.site_key is null
