-- one row per unit and day it was seen attached; torn and empty bags still hold their fixing
select c.unit_key, c.happened as day, max(case when c.state = 'retrieved' then 1 else 0 end) as retrieved
from check_stands c
where c.state in ('attached', 'torn', 'empty', 'retrieved')
group by c.unit_key, c.happened
