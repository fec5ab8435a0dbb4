-- one row per site, kind of plot, round and protocol: the kinds of frame laid in plots, and whether some are fixed
select site_key, plot_kind, round_on, protocol, min(frame_type) as frame_type, max(frame_type) as other_type,
    max(case when placement = 'fixed' then 1 else 0 end) as fixed
from frame
where placement <> 'at unit'
group by site_key, plot_kind, round_on, protocol
