-- A frame was laid otherwise than its protocol says.
select 'survey' as kind, s.identity, 'laid otherwise than the protocol says' as rule, 'caution' as effect,
    'some frames are ' || s.placement || ' ' || s.frame_type || 's; protocol ' || s.protocol || ' asks for '
        || p.placement || ' ' || p.frame_type || 's' as why
from survey_now s
join (select distinct protocol, frame_type, placement from setting_protocol) p on p.protocol = s.protocol
where s.frame_type <> p.frame_type or s.placement <> p.placement
