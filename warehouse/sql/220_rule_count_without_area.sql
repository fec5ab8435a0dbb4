-- A count in a frame whose area is not told gives no density.
select 'survey' as kind, s.identity, 'count without area' as rule, 'waits' as effect,
    'frame ' || s.frame_key || ' of dive ' || s.visit_key || ' has a count but no area' as why
from survey_now s
where s.count is not null and s.area_m2 is null and s.frame_type in ('quadrat', 'belt', 'photo')
