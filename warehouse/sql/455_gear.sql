-- one row per unit or lot that stands: pieces put down, brought home, found after they were lost, in place when last seen
with home as (
    select c.unit_key, sum(c.count_found) as counted,
        max(case when coalesce(c.retrieved_whole, true) then 0 else 1 end) as in_part,
        max(case when c.retrieved_whole then 1 else 0 end) as whole
    from check_stands c
    where c.state = 'retrieved'
    group by c.unit_key
), recovered as (
    select l.unit_key from loss_stands l where l.gear_recovered group by l.unit_key
), numbered as (
    select k.unit_key, k.day, k.found, row_number() over (partition by k.unit_key order by k.day desc) as newest
    from lot_look k
    where k.found is not null
), last_count as (  -- less what was taken up since
    select n.unit_key, n.found - coalesce(sum(c.count_found), 0) as still
    from numbered n
    left join check_stands c on c.unit_key = n.unit_key and c.state = 'retrieved' and c.happened >= n.day
    where n.newest = 1
    group by n.unit_key, n.found
), told as (
    select d.identity, d.unit_key, d.site_key, d.method, coalesce(lower(trim(d.material)), 'not told') as material,
        coalesce(d.unit_count, 1) as pieces, d.mass_kg, d.retrieve_by,
        case
            when h.unit_key is null then 0
            when coalesce(d.unit_count, 1) = 1 then 1
            when h.counted is not null then least(h.counted, d.unit_count)
            when h.whole = 1 then d.unit_count
            else 0
        end as retrieved,
        case when h.unit_key is null and r.unit_key is not null and coalesce(d.unit_count, 1) = 1 then 1 else 0 end as recovered,
        case when coalesce(d.unit_count, 1) = 1 then coalesce(h.in_part, 0) else 0 end as in_part,
        case when d.unit_count > 1 and ((h.unit_key is not null and h.counted is null and h.whole = 0) or r.unit_key is not null)
            then 1 else 0 end as uncounted,
        case when d.unit_count > 1 then greatest(n.still, 0) when u.r is null and u.l > 0 and u.unresolved = '' then 1 else 0 end as last_there
    from deployment_stands d
    left join home h on h.unit_key = d.unit_key
    left join recovered r on r.unit_key = d.unit_key
    left join last_count n on n.unit_key = d.unit_key
    left join unit_life u on u.unit_key = d.unit_key
)
select identity, unit_key, site_key, method, material, pieces, mass_kg, retrieve_by, retrieved, recovered, in_part, uncounted,
    pieces - retrieved - recovered as out_pieces,
    least(coalesce(last_there, 0), pieces - retrieved - recovered) as in_place
from told
