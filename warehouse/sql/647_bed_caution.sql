-- one row per bed, season and thing to beware of beside its cuttings, or of what is left out: how often
select c.bed_key, s.season, 'cuttings with a caution, ' || t.rule as what, count(distinct t.identity) as times
from standing t
join collection_stands c on c.identity = t.identity
join season_day s on s.happened = c.happened
where t.rule not in ('beyond the share of the bed', 'share not known')  -- the share itself says so
group by c.bed_key, s.season, t.rule
union all
select c.bed_key, s.season, 'cuttings left out until a ruling says what was cut' as what, count(distinct c.identity) as times
from collection_said c
join in_dispute q on q.identity = c.identity
join season_day s on s.happened = c.happened
cross join as_of a
where c.entry <= a.entry and c.happened <= a.happened
group by c.bed_key, s.season
