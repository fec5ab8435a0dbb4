-- one row per published frame whose protocol was dated before and of whose species and stages none is unknown
select f.partner, f.visit_key, f.site_key, f.plot_key, f.frame_key
from archive_frame f
join (
    select protocol, count(*) as targets, min(dated) as dated from setting_protocol group by protocol
) t on t.protocol = f.protocol and t.dated < f.first_on
join (
    select partner, visit_key, site_key, plot_key, frame_key, protocol, count(*) as known
    from frame_count
    group by partner, visit_key, site_key, plot_key, frame_key, protocol
) k on k.partner = f.partner and k.visit_key = f.visit_key and k.site_key = f.site_key and k.plot_key = f.plot_key
    and k.frame_key = f.frame_key and k.protocol = f.protocol and k.known = t.targets
