-- one row per plot that is registered as treated and of which nobody told yet that anything was put down in it
-- kept
select q.site_key, q.plot_key
from plot_stands q
left join archive_planting p on p.site_key = q.site_key and p.plot_key = q.plot_key
where q.plot_kind = 'treated' and p.identity is null
