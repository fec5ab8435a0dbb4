-- one row per site, round and caution that stands beside its surveys, its units or the site itself, or of what is left out
with dive as (  -- of which a row is held
    select h.held_name, s.site_key, s.happened
    from (
        select partner, split_part(key, ' | ', 1) as visit_key, held_name from held_open where kind = 'survey'
    ) h
    join survey_now s on s.partner = h.partner and s.visit_key = h.visit_key
)
select distinct site_key, round_on, why
from (
    select s.site_key, q.round_on, t.why
    from standing t
    join survey_stands s on s.identity = t.identity
    join survey_round q on q.site_key = s.site_key and q.happened = s.happened
    where t.kind = 'survey' and t.effect = 'caution'
    union all
    select s.site_key, q.round_on, t.why
    from standing t
    join site_stands s on s.identity = t.identity
    join survey_round q on q.site_key = s.site_key
    where t.kind = 'site' and t.effect = 'caution'
    union all
    select g.site_key, q.round_on, g.why
    from stage_changed g
    join survey_round q on q.site_key = g.site_key and q.happened = g.happened
    union all
    select f.site_key, f.round_on,
        'some counts leave out frames of which a row is held, waits or is in dispute: ' || cast(count(distinct
            f.partner || ' ' || f.visit_key || ' ' || f.plot_key || ' ' || f.frame_key) as varchar) as why
    from frame f
    join doubt d on d.partner = f.partner and d.visit_key = f.visit_key and d.plot_key = f.plot_key
        and d.frame_key = f.frame_key
    group by f.site_key, f.round_on
    union all
    select n.site_key, q.round_on,
        'rows of surveys that wait and are left out: ' || cast(count(distinct n.identity) as varchar) as why
    from survey_now n
    join waiting w on w.kind = 'survey' and w.identity = n.identity
    join survey_round q on q.site_key = n.site_key and q.happened = n.happened
    group by n.site_key, q.round_on
    union all
    select x.site_key, q.round_on,
        'rows of these dives that are held: ' || cast(count(distinct x.held_name) as varchar) as why
    from dive x
    join survey_round q on q.site_key = x.site_key and q.happened = x.happened
    group by x.site_key, q.round_on
    union all
    select d.site_key, q.round_on, 'units whose tissue had a caution, ' || t.rule || ': '
        || cast(count(distinct d.identity) as varchar) as why
    from standing t
    join deployment_stands d on d.identity = t.identity
    join survey_round q on q.site_key = d.site_key and q.round_on >= d.happened
    where t.kind = 'deployment' and t.rule in (
        'too long to release', 'too warm', 'gap in the cold chain', 'unknown batch')
    group by d.site_key, q.round_on, t.rule
) touched
