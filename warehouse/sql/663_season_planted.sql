-- one row per year in which anything was put down: how many units
select extract(year from happened) as in_year, count(*) as units
from deployment_stands
group by extract(year from happened)
