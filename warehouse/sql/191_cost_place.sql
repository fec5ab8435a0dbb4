-- one row per direct cost and site it was for; a cutting's cost is parted over the sites of its units by their number
select c.identity, s.site_key, 1 as units
from cost_now c join site_now s on c.for_kind = 'site' and s.site_key = c.for_key
union all
select c.identity, p.site_key, 1 as units
from cost_now c join plot_now p on c.for_kind = 'plot' and p.key = c.for_key
union all
select c.identity, d.site_key, 1 as units
from cost_now c join deployment_now d on c.for_kind = 'deployment' and d.unit_key = c.for_key
union all
select c.identity, v.site_key, 1 as units
from cost_now c join visit_now v on c.for_kind = 'visit' and v.visit_key = c.for_key and v.partner = c.partner
union all
select c.identity, d.site_key, count(distinct d.identity) as units
from cost_now c
join batch_source b on c.for_kind = 'collection' and b.cutting_key = c.for_key
join deployment_batch u on u.batch_key = b.batch_key
join deployment_now d on d.identity = u.identity
group by c.identity, d.site_key
