-- one row per site, method and material of gear, and whether the day is past by which it was to come home: pieces and kg
select g.site_key, g.method, g.material, case when g.retrieve_by <= a.happened then 1 else 0 end as due,
    sum(g.pieces) as pieces, sum(g.retrieved) as retrieved, sum(g.recovered) as recovered, sum(g.in_place) as in_place,
    sum(cast(g.mass_kg * g.out_pieces / nullif(g.pieces, 0) as decimal(18, 6))) as out_kg,
    sum(case when g.mass_kg is null then g.out_pieces else 0 end) as out_unweighed,
    sum(g.in_part) as in_part, sum(g.uncounted) as uncounted,
    sum(case when g.retrieve_by is null then g.out_pieces else 0 end) as out_undated
from gear g
cross join as_of a
group by g.site_key, g.method, g.material, case when g.retrieve_by <= a.happened then 1 else 0 end
