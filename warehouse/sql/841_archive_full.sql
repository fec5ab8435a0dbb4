-- one row per published frame of whose protocol, dated before, every species is told as seen or as not there, in every stage
-- kept
with told as (
    select partner, visit_key, site_key, plot_key, frame_key, species from archive_nothing
    union
    select partner, visit_key, site_key, plot_key, frame_key, species from archive_seen
), of_target as (
    select f.partner, f.visit_key, f.site_key, f.plot_key, f.frame_key, f.protocol, count(*) as species
    from archive_frame f
    join (select distinct protocol, species, dated from setting_protocol) t on t.protocol = f.protocol and t.dated < f.first_on
    join told x on x.partner = f.partner and x.visit_key = f.visit_key and x.site_key = f.site_key
        and x.plot_key = f.plot_key and x.frame_key = f.frame_key and x.species = t.species
    group by f.partner, f.visit_key, f.site_key, f.plot_key, f.frame_key, f.protocol
), known as (
    select partner, visit_key, site_key, plot_key, frame_key, protocol, count(*) as stages
    from frame_count
    group by partner, visit_key, site_key, plot_key, frame_key, protocol
)
select o.partner, o.visit_key, o.site_key, o.plot_key, o.frame_key
from of_target o
join known k on k.partner = o.partner and k.visit_key = o.visit_key and k.site_key = o.site_key
    and k.plot_key = o.plot_key and k.frame_key = o.frame_key and k.protocol = o.protocol
join (
    select protocol, count(*) as stages, count(distinct species) as species from setting_protocol group by protocol
) t on t.protocol = o.protocol and t.stages = k.stages and t.species = o.species
