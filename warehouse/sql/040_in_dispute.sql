-- one row per identity that waits for a ruling: last words on it differ, of two partners or of one take-in with itself
-- kept
select l.identity, max(l.entry) as entry
from last_word l
left join registered g on g.identity = l.identity
where g.identity is null
group by l.identity
having count(distinct l.content) > 1
