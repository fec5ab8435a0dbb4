-- one row per site, method and thing to beware of beside its units, or of what is left out of them: how often
select site_key, method, what, count(distinct identity) as times
from (
    select u.site_key, u.method, c.identity, 'absences told without how long was searched' as what
    from standing t
    join check_stands c on c.identity = t.identity
    join unit u on u.unit_key = c.unit_key
    where t.rule = 'absence without effort'
    union all
    select u.site_key, u.method, u.identity, 'units told to lie beyond the site' as what
    from standing t
    join unit u on u.identity = t.identity
    where t.rule = 'position beyond the site'
    union all
    select u.site_key, u.method, c.identity, 'looks at units that wait and are left out' as what
    from check_now c
    join waiting w on w.kind = 'check' and w.identity = c.identity
    join unit u on u.unit_key = c.unit_key
    union all
    select d.site_key, d.method, d.identity, 'units left out until a ruling says how they were put down' as what
    from deployment_said d
    join in_dispute q on q.identity = d.identity
    cross join as_of a
    where d.entry <= a.entry and d.happened <= a.happened
    union all
    select n.site_key, n.method, n.identity, 'units that wait and are left out' as what
    from deployment_now n
    join waiting w on w.kind = 'deployment' and w.identity = n.identity
) told
group by site_key, method, what
