-- one row per frame of a dive of which something is published
-- kept
select partner, visit_key, site_key, plot_key, frame_key, min(teller) as teller, min(frame_type) as frame_type,
    min(placement) as placement, case when min(protocol) = max(protocol) then min(protocol) end as protocol,
    min(area_m2) as area_m2, min(happened) as first_on, max(happened) as last_on, min(depth_m) as depth_min_m,
    max(depth_m) as depth_max_m, min(points) as points, max(case when stage = 'any' then 1 else 0 end) as has_whole,
    max(case when stage <> 'any' then 1 else 0 end) as has_stage, count(count) as counts, count(cover_pct) as covers,
    min(recorded_by) as recorded_by
from survey_archive_published
group by partner, visit_key, site_key, plot_key, frame_key
