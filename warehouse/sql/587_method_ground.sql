-- one row per site, method, round and protocol: area of the treated plots counted that hold it alone, its pieces and days there
with laid as (
    select distinct site_key, round_on, protocol, plot_key from frame where plot_kind = 'treated' and placement <> 'at unit'
)
select l.site_key, p.method, l.round_on, l.protocol,
    sum(case when p.alone = 1 then t.area_m2 end) as area_m2,
    sum(case when p.alone = 1 then p.pieces end) as pieces,
    date_diff('day', min(case when p.alone = 1 then p.first_down end), l.round_on) as days
from laid l
join plot_method p on p.site_key = l.site_key and p.round_on = l.round_on and p.plot_key = l.plot_key
join plot_stands t on t.site_key = l.site_key and t.plot_key = l.plot_key
group by l.site_key, p.method, l.round_on, l.protocol
