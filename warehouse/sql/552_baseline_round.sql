-- one row per site, round after planting and protocol: the last round before planting in the same season of the year, and in any
with span as (
    select site_key, round_on, max(happened) as until from survey_round group by site_key, round_on
), laid as (
    select f.site_key, f.round_on, f.protocol, s.season_month, x.until
    from frame f
    join round_season s on s.site_key = f.site_key and s.round_on = f.round_on
    join span x on x.site_key = f.site_key and x.round_on = f.round_on
    where f.placement <> 'at unit'
    group by f.site_key, f.round_on, f.protocol, s.season_month, x.until
    having count(distinct case when f.plot_kind in ('treated', 'control') then f.plot_kind end) = 2
)
select a.site_key, a.round_on, a.protocol,
    max(case when b.season_month = a.season_month then b.round_on end) as baseline_on, max(b.round_on) as any_before
from laid a
join first_down d on d.site_key = a.site_key and d.first_down <= a.round_on
left join laid b on b.site_key = a.site_key and b.protocol = a.protocol and b.until < d.first_down
group by a.site_key, a.round_on, a.protocol
