-- one row per held part that is still open: nobody said its thing since, neither it nor its file came again, no ruling and no rule spoke
-- kept
with came as (  -- a drop read again stands where it first came: what a later drop said is later, whenever it was read
    select e.partner, e.drop, min(e.number) as since from entry e group by e.partner, e.drop
), brought as (
    select distinct p.entry
    from part p
    cross join as_of a
    where p.entry <= a.entry
), held as (
    select p.entry, p.partner, e.name, e.drop, c.since, p.sheet, p.row, p.part, p.kind, p.fate, p.identity, p.key,
        cast(p.entry as varchar) || '/' || case when p.sheet = '' then '' else p.sheet || '/' end
            || cast(p.row as varchar) || '/' || cast(p.part as varchar) as held_name
    from part p
    join entry e on e.number = p.entry
    join came c on c.partner = e.partner and c.drop = e.drop
    cross join as_of a
    where p.fate in ('faulty', 'conflict', 'question') and p.entry <= a.entry
), said as (  -- said since, or in another file whenever that came
    select distinct h.held_name
    from held h
    join part p on p.identity = h.identity
    join entry e on e.number = p.entry
    join came c on c.partner = e.partner and c.drop = e.drop
    cross join as_of a
    where p.fate in ('entered', 'amends', 'repeated') and p.entry <= a.entry
        and (
            (c.since > h.since or (c.since = h.since and p.entry > h.entry))
            or (h.fate = 'faulty' and (e.partner <> h.partner or e.name <> h.name))
        )
        and (h.fate = 'faulty' or p.partner = h.partner)
), reread as (
    select distinct h.entry
    from held h
    join entry n on n.partner = h.partner and n.drop = h.drop and n.number > h.entry
    join brought b on b.entry = n.number
), next_drop as (  -- the next file of the same name that could be read
    select h.entry, min(c.since) as since
    from (select distinct entry, partner, name, since from held) h
    join entry n on n.partner = h.partner and n.name = h.name
    join came c on c.partner = n.partner and c.drop = n.drop and c.since > h.since
    join brought b on b.entry = n.number
    group by h.entry
), followed as (  -- as it was read last
    select x.entry, max(n.number) as next_entry
    from next_drop x
    join came c on c.since = x.since
    join entry n on n.partner = c.partner and n.drop = c.drop
    join brought b on b.entry = n.number
    group by x.entry
), counting as (  -- things of which some version counts
    select distinct p.identity
    from part p
    cross join as_of a
    where p.fate in ('entered', 'amends') and p.entry <= a.entry
), alike as (  -- it is the same sheet, mended, if the two have anything in common
    select f.entry, f.next_entry, count(distinct p.identity) as shared, count(b.identity) as named
    from followed f
    left join part b on b.entry = f.entry
    left join part p on p.entry = f.next_entry and p.identity = b.identity
    group by f.entry, f.next_entry
), came_again as (  -- of a file whose rows had no names at all, a row of the same kind in the same place is the same row
    select h.held_name
    from held h
    join reread r on r.entry = h.entry
    union
    select h.held_name
    from held h
    join alike s on s.entry = h.entry
    left join part p on p.entry = s.next_entry and p.sheet = h.sheet and p.row = h.row
        and h.kind in (p.kind, '')  -- nobody knew what a row without a mapping was of
    where s.shared > 0 or (s.named = 0 and p.row is not null)
), given_back as (  -- rows handed in again with the id of the row that was held first
    select r.entry, r.sheet, r.row, o.partner, o.drop, r.held_sheet, r.held_row, c.since
    from returned r
    join entry o on o.number = r.held_entry
    join entry n on n.number = r.entry
    join came c on c.partner = n.partner and c.drop = n.drop
    cross join as_of a
    where r.entry <= a.entry
), superseded as (
    select h.held_name
    from held h
    join given_back g on g.partner = h.partner and g.drop = h.drop and g.held_sheet = h.sheet and g.held_row = h.row
        and g.since > h.since
    union
    select h.held_name
    from held h
    join given_back m on m.entry = h.entry and m.sheet = h.sheet and m.row = h.row
    join given_back g on g.partner = m.partner and g.drop = m.drop and g.held_sheet = m.held_sheet
        and g.held_row = m.held_row and g.since > h.since
), refused as (  -- what its own partner said before a ruling that refused it, said again: settled already
    select distinct h.held_name
    from held h
    join ruled r on r.identity = h.identity and r.entry < h.entry
    join part p on p.entry = h.entry and p.sheet = h.sheet and p.row = h.row and p.part = h.part
    join part b on b.identity = h.identity and b.partner = h.partner and b.content = p.content and b.entry < r.entry
    where h.fate = 'question' and b.fate <> 'faulty' and (r.content is null or r.content <> p.content)
)
select h.entry, h.partner, h.name, h.drop, h.sheet, h.row, h.part, h.kind, h.fate, h.identity, h.key, h.held_name
from held h
left join said s on s.held_name = h.held_name
left join (select distinct held_name from came_again) c on c.held_name = h.held_name
left join superseded u on u.held_name = h.held_name
left join refused w on w.held_name = h.held_name
left join ruled r on r.identity = h.identity
left join dismissed d on d.held_name = h.held_name
left join in_dispute q on q.identity = h.identity
left join settled_by_rule b on b.identity = h.identity
left join registered g on g.identity = h.identity
left join counting v on v.identity = h.identity
where d.held_name is null and u.held_name is null and w.held_name is null
    and coalesce(r.entry, 0) <= h.entry
    and (
        (h.fate = 'conflict' and b.identity is null
            and (q.identity is not null or ((g.identity is not null or v.identity is null) and s.held_name is null)))
        or (h.fate <> 'conflict' and s.held_name is null and c.held_name is null)
    )
