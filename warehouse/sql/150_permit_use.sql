-- one row per cutting, unit put down and plot prepared: the permit it names, how much it took or placed, and what does not fit the permit
with used as (
    select 'collection' as kind, c.identity, c.entry, c.partner, c.key, c.permit_key, c.happened, c.species, 'collect' as activity,
        c.plants_cut as plants, c.blades_cut as blades, c.fertile_mass_kg as kg, cast(null as bigint) as pieces,
        cast(null as decimal(18, 6)) as area_m2, cast(null as decimal(18, 6)) as amount, cast(null as varchar) as amount_unit
    from collection_now c
    union all
    select 'deployment' as kind, d.identity, d.entry, d.partner, d.key, d.permit_key, d.happened, null as species, 'place on seabed' as activity,
        null as plants, null as blades, d.mass_kg as kg, coalesce(d.unit_count, 1) as pieces, d.area_treated_m2 as area_m2,
        null as amount, null as amount_unit
    from deployment_now d
    union all
    select 'treatment' as kind, t.identity, t.entry, t.partner, t.key, t.permit_key, t.happened, t.species,
        case when t.action = 'grazers removed' then 'remove grazers' else 'other' end as activity,
        null as plants, null as blades, case when lower(trim(t.amount_unit)) = 'kg' then t.amount end as kg, null as pieces, t.area_m2,
        t.amount, lower(trim(t.amount_unit)) as amount_unit
    from treatment_now t
), measured as (
    select u.kind, u.identity, u.entry, u.partner, u.key, u.permit_key, u.happened, u.species, u.activity,
        u.plants, u.blades, u.kg, u.pieces, u.area_m2, u.amount, u.amount_unit,
        p.permit_key is not null as registered, p.valid_from, p.valid_to, p.species as permit_species, p.quota,
        coalesce(p.activity, u.activity) as allows,
        -- a permit without a quota is counted in the unit that people write
        coalesce(lower(trim(p.quota_unit)),
            case u.kind when 'collection' then 'plants' when 'deployment' then 'units' else u.amount_unit end) as unit
    from used u
    left join permit_now p on p.permit_key = u.permit_key
)
select kind, identity, entry, partner, key, permit_key, happened, registered, quota, unit,
    case when unit in ('plants', 'plant') then cast(plants as decimal(18, 6))
        when unit in ('blades', 'blade', 'fronds', 'frond') then cast(blades as decimal(18, 6))
        when unit = 'kg' then kg
        when unit = 'g' then cast(kg * 1000 as decimal(18, 6))
        when unit in ('t', 'tonnes') then cast(kg * 0.001 as decimal(18, 6))
        when unit in ('m2', 'square metres') then area_m2
        when unit in ('units', 'unit', 'pieces', 'bags', 'lines') then cast(pieces as decimal(18, 6))
        when unit = amount_unit then amount
    end as amount,
    allows not in (activity, 'move', 'other') as other_activity,
    registered and (happened < valid_from or happened > valid_to) as out_of_dates,
    coalesce(species <> permit_species, false) as other_species
from measured
