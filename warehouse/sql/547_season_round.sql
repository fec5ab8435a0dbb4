-- one row per site, protocol, season and plots (one kind, or treated and control together): the last round that counted them
with laid as (
    select f.site_key, f.protocol, s.season, f.round_on,
        max(case when f.plot_kind = 'treated' then 1 else 0 end) as treated,
        max(case when f.plot_kind = 'control' then 1 else 0 end) as control,
        max(case when f.plot_kind = 'reference' then 1 else 0 end) as reference
    from frame f
    join round_season s on s.site_key = f.site_key and s.round_on = f.round_on
    where f.placement <> 'at unit'
    group by f.site_key, f.protocol, s.season, f.round_on
)
select site_key, protocol, season, plots, max(round_on) as round_on
from (
    select site_key, protocol, season, round_on, 'treated' as plots from laid where treated = 1
    union all
    select site_key, protocol, season, round_on, 'control' as plots from laid where control = 1
    union all
    select site_key, protocol, season, round_on, 'reference' as plots from laid where reference = 1
    union all
    select site_key, protocol, season, round_on, 'treated and control' as plots from laid where treated = 1 and control = 1
) told
group by site_key, protocol, season, plots
