-- one row per survey row of a frame in a plot with its round; of a fixed frame counted twice in a round only the last time
with told as (
    select c.identity, c.partner, c.visit_key, c.site_key, c.plot_key, p.plot_kind, c.frame_key, c.frame_type, c.placement,
        c.protocol, c.happened, q.round_on, c.species, c.stage, c.count, c.too_small, c.fertile_count, c.cover_pct, c.points, c.length_cm
    from counted c
    join survey_round q on q.site_key = c.site_key and q.happened = c.happened
    join plot_stands p on p.site_key = c.site_key and p.plot_key = c.plot_key
    where c.placement <> 'at unit'
), last_time as (
    select site_key, plot_key, frame_key, frame_type, protocol, round_on, max(happened) as happened
    from told
    where placement = 'fixed'
    group by site_key, plot_key, frame_key, frame_type, protocol, round_on
)
select t.identity, t.partner, t.visit_key, t.site_key, t.plot_key, t.plot_kind, t.frame_key, t.frame_type, t.protocol,
    t.happened, t.round_on, t.species, t.stage, t.count, t.too_small, t.fertile_count, t.cover_pct, t.points, t.length_cm
from told t
left join last_time x on t.placement = 'fixed' and x.site_key = t.site_key and x.plot_key = t.plot_key
    and x.frame_key = t.frame_key and x.frame_type = t.frame_type and x.protocol = t.protocol and x.round_on = t.round_on
where x.happened is null or x.happened = t.happened
