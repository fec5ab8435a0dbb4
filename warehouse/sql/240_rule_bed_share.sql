-- Cuttings of a season together take more of a bed than its limit allows.
with taken as (
    select c.identity, c.bed_key, c.batch_key, c.happened, c.plants_cut,
        sum(c.plants_cut) over (
            partition by c.bed_key, s.year
            order by c.happened, c.batch_key rows between unbounded preceding and current row) as so_far
    from collection_now c
    join season_day s on s.happened = c.happened
), allowed as (
    select b.bed_key, coalesce(b.fertile, b.adults) as plants, coalesce(b.take_limit_pct, r.take_limit_pct) as limit_pct
    from bed_now b
    cross join setting r
)
select 'collection' as kind, t.identity, 'beyond the share of the bed' as rule, 'caution' as effect,
    'with batch ' || t.batch_key || ', ' || cast(t.so_far as varchar) || ' of about ' || cast(a.plants as varchar)
        || ' plants of bed ' || t.bed_key || ' were cut that season; the limit is '
        || cast(cast(a.limit_pct as decimal(9, 1)) as varchar) || ' % (local permits outrank it)' as why
from taken t
join allowed a on a.bed_key = t.bed_key
where t.so_far * 100 > a.limit_pct * a.plants
