-- one row per batch and each batch it came from by merging, splitting, culturing or seeding
select h.batch_key, trim(b.parent) as parent_key
from handling_now h
cross join unnest(string_split(h.parent_batches, ';')) as b(parent)
where h.parent_batches is not null
