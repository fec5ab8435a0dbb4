-- one row per published frame and species that is told as absent: not there, in a frame that tells of every species searched for
select n.partner, n.visit_key, n.site_key, n.plot_key, n.frame_key, n.protocol, n.species
from archive_nothing n
join archive_full u on u.partner = n.partner and u.visit_key = n.visit_key and u.site_key = n.site_key
    and u.plot_key = n.plot_key and u.frame_key = n.frame_key
