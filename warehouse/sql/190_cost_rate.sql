-- one row per cost in money: units of its currency for one of the programme's, last set or published on or before its day
with ranked as (
    select c.identity, q.per_unit, q.dated,
        row_number() over (partition by c.identity order by q.dated desc) as newest
    from cost_now c
    join setting_rate q on q.currency = c.currency and q.dated <= c.happened
        and c.happened <= coalesce(q.until, c.happened)
    where c.form <> 'hours'
)
select identity, per_unit, dated
from ranked
where newest = 1
