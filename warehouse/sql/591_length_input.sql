-- one row per site, kind of plot, species, round, protocol, frame and length (both null: not measured): how many plants
with told as (  -- a length beside several plants is that of one of them, and nobody knows which
    select site_key, plot_kind, species, round_on, protocol,
        partner || ' ' || visit_key || ' ' || plot_key || ' ' || frame_key as frame,
        case when coalesce(count, 1) = 1 then length_cm end as length_cm, coalesce(count, 1) as plants
    from plant_row
    where species is not null and coalesce(count, 1) > 0
), every as (
    select t.*, max(case when t.length_cm is not null then 1 else 0 end) over (
        partition by t.site_key, t.plot_kind, t.species, t.round_on, t.protocol) as looked
    from told t
)
select site_key, plot_kind, species, round_on, protocol, case when length_cm is not null then frame end as frame, length_cm,
    sum(plants) as plants
from every
where looked = 1
group by site_key, plot_kind, species, round_on, protocol, case when length_cm is not null then frame end, length_cm
