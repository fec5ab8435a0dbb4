-- one row per site, method, species, round, protocol, count and area: frames in treated plots where only that method was put down
select f.site_key, p.method, f.species, f.round_on, f.protocol, f.count, f.area_m2, count(*) as frames
from frame_count f
join plot_method p on p.site_key = f.site_key and p.round_on = f.round_on and p.plot_key = f.plot_key and p.alone = 1
where f.plot_kind = 'treated' and f.stage = 'recruit' and f.placement <> 'at unit'
group by f.site_key, p.method, f.species, f.round_on, f.protocol, f.count, f.area_m2
