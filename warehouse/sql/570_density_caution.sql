-- one row per site, round and caution that stands beside its surveys, its plots or the site itself
select distinct site_key, round_on, why
from (
    select s.site_key, q.round_on, t.why
    from standing t
    join survey_stands s on s.identity = t.identity
    join survey_round q on q.site_key = s.site_key and q.happened = s.happened
    where t.kind = 'survey' and t.effect = 'caution'
    union all
    select s.site_key, q.round_on, t.why
    from standing t
    join site_stands s on s.identity = t.identity
    join survey_round q on q.site_key = s.site_key
    where t.kind = 'site' and t.effect = 'caution'
) touched
