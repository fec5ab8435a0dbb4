-- Rows of one frame of a dive differ in site, day, kind of frame or placement: they cannot be one frame.
select 'survey' as kind, s.identity, 'frame told in two ways' as rule, 'waits' as effect,
    'rows of frame ' || s.frame_key || ' of dive ' || s.visit_key || ' differ in site, day, kind of frame or placement' as why
from survey_now s
join (
    select partner, visit_key, plot_key, frame_key
    from survey_now
    group by partner, visit_key, plot_key, frame_key
    having min(site_key) <> max(site_key) or min(happened) <> max(happened) or min(frame_type) <> max(frame_type)
        or min(placement) <> max(placement)
) x on x.partner = s.partner and x.visit_key = s.visit_key and x.plot_key = s.plot_key and x.frame_key = s.frame_key
