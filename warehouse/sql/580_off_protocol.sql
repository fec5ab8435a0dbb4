-- one row per site, kind of plot, round, protocol, species and stage that was counted without being in the protocol: unknown elsewhere
select c.site_key, p.plot_kind, q.round_on, c.protocol, c.species, coalesce(c.stage, 'any') as stage, count(*) as rows_counted
from counted c
join survey_round q on q.site_key = c.site_key and q.happened = c.happened
join plot_stands p on p.site_key = c.site_key and p.plot_key = c.plot_key
left join setting_protocol t on t.protocol = c.protocol and t.species = c.species and t.stage = coalesce(c.stage, 'any')
where c.species is not null and c.count > 0 and t.species is null
group by c.site_key, p.plot_kind, q.round_on, c.protocol, c.species, coalesce(c.stage, 'any')
