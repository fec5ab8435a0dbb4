-- one row per batch put down or cut and thing left out of its custody: how often
select batch_key, 'rows on its keeping that are held' as what, count(*) as times
from custody_held
group by batch_key
