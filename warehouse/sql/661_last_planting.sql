-- one row per site: the last day on which anything was put down there
select site_key, max(happened) as planted_on, count(*) as units
from deployment_stands
group by site_key
