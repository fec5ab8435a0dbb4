-- one row per tagged unit that was put down
-- kept
select d.unit_key, d.site_key, d.plot_key, d.method, d.fixing, d.happened as down_on, d.identity
from deployment_stands d
where coalesce(d.unit_count, 1) = 1
