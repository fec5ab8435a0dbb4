-- A count was written as about or at least, not as exact.
select 'survey' as kind, s.identity, 'rough count' as rule, 'caution' as effect,
    'some counts are “about” or “at least”' as why
from survey_now s
where s.count_qualifier in ('about', 'at least')
