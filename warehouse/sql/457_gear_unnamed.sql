-- one row per day on which gear came home that nobody could name: how many times
select l.happened as day, count(*) as times
from loss_stands l
where l.gear_recovered and lower(l.unit_key) = 'cannot name'
group by l.happened
