-- Stipes, fronds or holdfasts were counted, not plants.
select 'survey' as kind, s.identity, 'other than plants counted' as rule, 'caution' as effect,
    'some counts are of ' || s.counted_as || 's, not of plants' as why
from survey_now s
where s.counted_as in ('stipe', 'frond', 'holdfast') and s.count > 0
