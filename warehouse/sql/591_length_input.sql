-- one row per site, kind of plot, species, round, protocol, frame and length (both null: not measured): how many plants
with told as (  -- a length beside several plants is that of one of them, and nobody knows which
    select site_key, plot_kind, species, round_on, protocol,
        partner || ' ' || visit_key || ' ' || plot_key || ' ' || frame_key as frame,
        case when coalesce(count, 1) = 1 then length_cm end as length_cm, coalesce(count, 1) as plants
    from plant_row
    where species is not null and coalesce(count, 1) > 0
), looked as (
    select distinct site_key, plot_kind, species, round_on, protocol from told where length_cm is not null
), every as (
    select t.*
    from told t
    join looked l on l.site_key = t.site_key and l.plot_kind = t.plot_kind and l.species = t.species
        and l.round_on = t.round_on and l.protocol = t.protocol
)
select site_key, plot_kind, species, round_on, protocol, case when length_cm is not null then frame end as frame, length_cm,
    sum(plants) as plants
from every
group by site_key, plot_kind, species, round_on, protocol, case when length_cm is not null then frame end, length_cm
