-- one row per published survey row in a plot after something was put down there that it may be of, or that is treated and of
-- which nobody told yet what was put down: whatever else is said of it
select distinct s.identity
from archive_seen s
join archive_planting p on p.site_key = s.site_key and p.plot_key = s.plot_key and p.first_on <= s.happened
where p.species in ('', s.species) or split_part(s.species, ' ', 2) = ''
    or (split_part(s.species, ' ', 1) = split_part(p.species, ' ', 1)
        and split_part(s.species, ' ', 2) in ('sp.', 'spp.', 'cf.', 'aff.'))
union
select s.identity
from archive_seen s
join archive_untold n on n.site_key = s.site_key and n.plot_key = s.plot_key
