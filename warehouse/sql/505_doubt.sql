-- one row per row of a frame that is held, waits or is in dispute: what it is of is unknown there (null: whatever it is of)
-- kept
select distinct partner, visit_key, plot_key, frame_key, species,
    case when stage in ('recruit', 'juvenile', 'sub-canopy', 'canopy', 'any') then stage end as stage
from (
    select n.partner, n.visit_key, n.plot_key, n.frame_key, n.species, n.stage
    from survey_now n
    join waiting w on w.kind = 'survey' and w.identity = n.identity
    union all
    select k.partner, k.visit_key, k.plot_key, k.frame_key, k.species, k.stage
    from survey_said k
    join in_dispute d on d.identity = k.identity
    cross join as_of a
    where k.entry <= a.entry
    union all
    -- a held row has no typed columns, but its key tells its frame; where an earlier word of it stands, that counts
    select h.partner, split_part(h.key, ' | ', 1) as visit_key, split_part(h.key, ' | ', 2) as plot_key,
        split_part(h.key, ' | ', 3) as frame_key, nullif(split_part(h.key, ' | ', 4), '') as species,
        nullif(split_part(h.key, ' | ', 5), '') as stage
    from held_open h
    left join survey_stands s on s.identity = h.identity
    left join withdrawn w on w.identity = h.identity
    where h.kind = 'survey' and h.key is not null and s.identity is null and w.identity is null
) told
