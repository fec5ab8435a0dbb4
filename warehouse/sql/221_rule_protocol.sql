-- A survey names a protocol that the programme does not have, or had only later.
select 'survey' as kind, s.identity, 'protocol' as rule, 'waits' as effect,
    case when p.protocol is null then 'the protocol ' || s.protocol || ' is not in programme.toml'
        else 'the protocol ' || s.protocol || ' is dated ' || cast(p.dated as varchar) || ', after the survey' end as why
from survey_now s
left join (select protocol, min(dated) as dated from setting_protocol group by protocol) p on p.protocol = s.protocol
where p.protocol is null or p.dated > s.happened
