-- one row per site and method: first day its units were down, and first visit since that did not find the site
select u.site_key, u.method, min(u.down_on) as first_down,
    min(case when v.outcome <> 'found' and v.happened > u.down_on then v.happened end) as first_failed
from unit u
left join visit_any v on v.site_key = u.site_key
group by u.site_key, u.method
