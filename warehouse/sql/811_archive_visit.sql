-- one row per dive and site that is published: told with the site found, or known by its frames
with told as (
    select partner, visit_key, site_key, teller, identity, happened, team, bottom_time_min, max_depth_m
    from visit_archive_published
    where outcome = 'found'
), framed as (
    select partner, visit_key, site_key, min(teller) as teller, min(first_on) as first_on, max(last_on) as last_on,
        min(depth_min_m) as depth_min_m, max(depth_max_m) as depth_max_m
    from archive_frame
    group by partner, visit_key, site_key
), place as (
    select partner, visit_key, site_key from told
    union
    select partner, visit_key, site_key from framed
)
select p.partner, p.visit_key, p.site_key, coalesce(t.teller, f.teller) as teller, t.identity,
    least(coalesce(t.happened, f.first_on), coalesce(f.first_on, t.happened)) as first_on,
    greatest(coalesce(t.happened, f.last_on), coalesce(f.last_on, t.happened)) as last_on, t.team, t.bottom_time_min,
    f.depth_min_m, greatest(coalesce(t.max_depth_m, f.depth_max_m), coalesce(f.depth_max_m, t.max_depth_m)) as depth_max_m
from place p
left join told t on t.partner = p.partner and t.visit_key = p.visit_key and t.site_key = p.site_key
left join framed f on f.partner = p.partner and f.visit_key = p.visit_key and f.site_key = p.site_key
