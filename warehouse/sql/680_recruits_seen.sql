-- one row per site, species, protocol and round: recruits counted in treated plots, the area searched, and when the site was first planted
select i.site_key, i.species, i.protocol, i.round_on, f.first_down, sum(i.count * i.frames) as recruits,
    sum(i.area_m2 * i.frames) as area_m2, sum(i.frames) as frames
from density_input i
join first_down f on f.site_key = i.site_key
where i.plot_kind = 'treated' and i.stage = 'recruit' and i.placed = 'plot' and i.round_on >= f.first_down
group by i.site_key, i.species, i.protocol, i.round_on, f.first_down
