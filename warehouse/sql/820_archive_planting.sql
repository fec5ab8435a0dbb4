-- one row per plot and species put down in it ('' where nobody told which): the first time, published or not, in doubt or not
-- kept
with put_down as (
    select identity, site_key, plot_key, method, happened from deployment_now
    union
    select k.identity, k.site_key, k.plot_key, k.method, k.happened
    from deployment_said k
    join in_dispute d on d.identity = k.identity
    cross join as_of a
    where k.entry <= a.entry
), of_species as (
    select distinct p.identity, coalesce(c.species, '') as species
    from put_down p
    left join deployment_batch b on b.identity = p.identity
    left join batch_source s on s.batch_key = b.batch_key
    left join collection_now c on c.batch_key = s.cutting_key
    union
    select b.identity, '' as species
    from deployment_batch b
    join batch_unknown u on u.batch_key = b.batch_key
), ranked as (
    select p.site_key, p.plot_key, o.species, p.identity, p.method, p.happened,
        row_number() over (
            partition by p.site_key, p.plot_key, o.species order by p.happened, p.identity, p.method) as nth,
        min(p.method) over (partition by p.site_key, p.plot_key, o.species) as a_method,
        max(p.method) over (partition by p.site_key, p.plot_key, o.species) as z_method
    from put_down p
    join of_species o on o.identity = p.identity
)
select site_key, plot_key, species, happened as first_on, identity,
    case when a_method = z_method then a_method else '' end as method
from ranked
where nth = 1
