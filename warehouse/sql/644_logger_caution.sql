-- one row per logger and thing that keeps rows of it out: how often
select partner, logger_key, what, count(*) as times
from (
    select n.partner, n.logger_key, n.identity, 'readings that wait and are left out' as what
    from reading_now n
    join waiting w on w.kind = 'reading' and w.identity = n.identity
    union all
    select distinct s.partner, s.logger_key, s.identity, 'readings in dispute, left out until a ruling' as what
    from reading_said s
    join in_dispute q on q.identity = s.identity
    cross join as_of a
    where s.entry <= a.entry and s.happened <= a.happened
    union all
    select distinct h.partner, split_part(h.key, ' | ', 1) as logger_key, h.held_name as identity,
        'rows of readings that are held' as what
    from held_open h
    left join in_dispute q on q.identity = h.identity
    where h.kind = 'reading' and q.identity is null
) told
where logger_key is not null and logger_key <> ''
group by partner, logger_key, what
