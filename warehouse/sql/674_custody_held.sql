-- one row per batch put down or cut and row about its keeping that is held
select distinct p.batch_key, h.entry, h.sheet, h.row, h.part
from held_open h
join custody_path p on p.between_key = split_part(h.key, ' | ', 1)
where h.kind = 'handling'
