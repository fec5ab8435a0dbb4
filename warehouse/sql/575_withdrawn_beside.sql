-- one row per site, round, species and stage of survey rows that were taken back (null: of whatever it was): how many
with dive as (
    select distinct s.partner, s.visit_key, s.site_key, q.round_on
    from survey_now s
    join survey_round q on q.site_key = s.site_key and q.happened = s.happened
)
select x.site_key, x.round_on, w.species, w.stage, count(distinct w.identity) as taken_back
from dive x
join withdrawn_survey w on w.partner = x.partner and w.visit_key = x.visit_key
group by x.site_key, x.round_on, w.species, w.stage
