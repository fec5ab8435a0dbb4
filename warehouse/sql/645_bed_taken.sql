-- one row per bed and season in which it was cut: what was taken of it, and how many cuttings wait and are left out
select c.bed_key, s.season, count(t.identity) as cuttings, sum(t.plants_cut) as plants, sum(t.blades_cut) as blades,
    count(t.identity) - count(t.blades_cut) as blades_untold, count(*) - count(t.identity) as waiting,
    min(t.happened) as first_on
from collection_now c
join season_day s on s.happened = c.happened
left join collection_stands t on t.identity = c.identity
group by c.bed_key, s.season
