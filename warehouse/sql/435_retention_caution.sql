-- one row per site, method and caution that stands beside its units, their checks and losses, or of what is left out
select site_key, method, why
from (
    select u.site_key, u.method, t.rule || ' (' || t.kind || 's: ' || cast(count(distinct t.identity) as varchar) || ')' as why
    from standing t
    join (
        select identity, unit_key from check_stands
        union all
        select identity, unit_key from loss_stands
        union all
        select identity, unit_key from deployment_stands
    ) x on x.identity = t.identity
    join unit u on u.unit_key = x.unit_key
    where t.effect = 'caution' and t.rule in ('absence without effort', 'lost unit seen again', 'position beyond the site')
    group by u.site_key, u.method, t.rule, t.kind
    union all
    select u.site_key, u.method, 'looks at units that wait and are left out: '
        || cast(count(distinct c.identity) as varchar) as why
    from check_now c
    join waiting w on w.kind = 'check' and w.identity = c.identity
    join unit u on u.unit_key = c.unit_key
    group by u.site_key, u.method
    union all
    select d.site_key, d.method, 'units left out until a ruling says how they were put down: '
        || cast(count(distinct d.unit_key) as varchar) as why
    from deployment_said d
    join in_dispute q on q.identity = d.identity
    cross join as_of a
    where d.entry <= a.entry
    group by d.site_key, d.method
    union all
    select n.site_key, n.method, 'units that wait and are left out: ' || cast(count(distinct n.identity) as varchar) as why
    from deployment_now n
    join waiting w on w.kind = 'deployment' and w.identity = n.identity
    group by n.site_key, n.method
) told
