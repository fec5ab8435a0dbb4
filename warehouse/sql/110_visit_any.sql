-- one row per visit: as told, or inferred with outcome found from the rows that name a dive nobody told of
-- kept
with named as (
    select partner, visit_key, min(site_key) as site_key, min(happened) as happened
    from (
        select s.partner, s.visit_key, s.site_key, s.happened
        from survey_now s
        left join ahead_survey x on x.identity = s.identity
        where x.identity is null
        union all
        select c.partner, c.visit_key, coalesce(c.site_key, d.site_key) as site_key, c.happened
        from check_now c
        left join deployment_now d on d.unit_key = c.unit_key
        left join ahead_check x on x.identity = c.identity
        where c.state <> 'not searched' and x.identity is null
    ) rows_naming
    group by partner, visit_key
)
select v.partner, v.visit_key, v.site_key, v.happened, v.outcome, v.visibility_m, v.identity, 'told' as source
from visit_now v
left join ahead_visit x on x.identity = v.identity
where x.identity is null
union all
select n.partner, n.visit_key, n.site_key, n.happened, 'found' as outcome, cast(null as decimal(18, 6)) as visibility_m,
    cast(null as varchar) as identity, 'inferred' as source
from named n
left join visit_now v on v.partner = n.partner and v.visit_key = n.visit_key
where v.identity is null
