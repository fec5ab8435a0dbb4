-- one row per site, round and species after planting: days since something was put down, and from which day on recruits show
with down as (
    select site_key, method, min(happened) as first_down from deployment_stands group by site_key, method
), told as (
    select q.site_key, q.round_on, t.species, d.method, date_diff('day', d.first_down, q.round_on) as days,
        coalesce(b.day, s.day, m.day, a.day) as needed
    from (select distinct site_key, round_on from survey_round) q
    join down d on d.site_key = q.site_key and d.first_down <= q.round_on
    cross join (select distinct species from setting_protocol) t
    left join setting_first_day b on b.species = t.species and b.method = d.method
    left join setting_first_day s on s.species = t.species and s.method = ''
    left join setting_first_day m on m.species = '' and m.method = d.method
    left join setting_first_day a on a.species = '' and a.method = ''
), ranked as (  -- of several methods the one that is furthest on: with it recruits could show
    select o.*, row_number() over (
        partition by o.site_key, o.round_on, o.species order by o.days - o.needed desc, o.needed, o.method) as nth
    from told o
)
select site_key, round_on, species, days, needed from ranked where nth = 1
