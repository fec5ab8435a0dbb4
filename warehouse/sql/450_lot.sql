-- one row per untagged lot that was put down
select d.unit_key, d.site_key, d.plot_key, d.method, d.unit_count, d.happened as down_on, d.identity
from deployment_stands d
where coalesce(d.unit_count, 1) > 1
