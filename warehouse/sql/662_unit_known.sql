-- one row per method, site and interval in which its tagged units went: how many
select method, site_key, l, r, count(*) as units
from unit_life
where unresolved = ''
group by method, site_key, l, r
