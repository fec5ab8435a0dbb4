-- A count was written as at most or between two numbers, or as present only: the truth is on one known side of what stands.
select 'survey' as kind, s.identity, 'count is a bound' as rule, 'caution' as effect,
    case s.count_qualifier
        when 'at most' then 'some counts are “at most”: the true figure may be lower, even zero'
        when 'between' then 'some counts lie between two numbers and stand as the lower: the true figure may be higher'
        else 'some rows say “present” without a count: their frames are left out for that species and stage'
    end as why
from survey_now s
where s.count_qualifier in ('at most', 'between', 'present')
