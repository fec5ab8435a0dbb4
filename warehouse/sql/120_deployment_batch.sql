-- one row per deployed unit and batch of tissue in it
select d.unit_key, d.identity, trim(b.batch) as batch_key
from deployment_now d
cross join unnest(string_split(d.batch_key, ';')) as b(batch)
where d.batch_key is not null
