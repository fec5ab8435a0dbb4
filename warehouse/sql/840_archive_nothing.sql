-- one row per published frame and species of its protocol, dated before, of which every stage was searched and nothing seen
-- kept
with target as (
    select protocol, species, min(dated) as dated, count(*) as stages from setting_protocol group by protocol, species
), searched as (
    select partner, visit_key, site_key, plot_key, frame_key, protocol, species, min(happened) as happened,
        count(*) as stages, sum(count) as count
    from frame_count
    group by partner, visit_key, site_key, plot_key, frame_key, protocol, species
), something as (  -- whatever was seen, dead, small or in doubt, or of a wider name, published or not
    select distinct partner, visit_key, site_key, plot_key, frame_key, species
    from survey_now
    where species is not null
        and (count is null or count > 0 or cover_pct > 0 or coalesce(count_qualifier, 'exact') not in ('exact', 'about'))
)
select distinct s.partner, s.visit_key, s.site_key, s.plot_key, s.frame_key, s.protocol, s.species
from searched s
join target t on t.protocol = s.protocol and t.species = s.species and t.stages = s.stages and t.dated < s.happened
join archive_frame f on f.partner = s.partner and f.visit_key = s.visit_key and f.site_key = s.site_key
    and f.plot_key = s.plot_key and f.frame_key = s.frame_key and f.protocol = s.protocol
left join something x on x.partner = s.partner and x.visit_key = s.visit_key and x.site_key = s.site_key
    and x.plot_key = s.plot_key and x.frame_key = s.frame_key
    and (x.species = s.species or split_part(x.species, ' ', 2) = ''
        or (split_part(x.species, ' ', 1) = split_part(s.species, ' ', 1)
            and split_part(x.species, ' ', 2) in ('sp.', 'spp.', 'cf.', 'aff.')))
where s.count = 0 and x.partner is null
