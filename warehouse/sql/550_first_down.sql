-- one row per site: the first day anything was put down there
select site_key, min(happened) as first_down from deployment_stands group by site_key
