-- one row per frame counted under a protocol on one visit; a fixed frame counted twice in a round stands once, the last
select partner, visit_key, site_key, plot_key, plot_kind, frame_key, protocol, frame_type, placement, happened, round_on,
    area_m2
from laid_frame
where stands = 1
