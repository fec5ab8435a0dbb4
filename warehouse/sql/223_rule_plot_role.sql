-- A frame was counted on a day outside the dates of its plot's role, so what kind of plot it was is not known.
select 'survey' as kind, s.identity, 'outside the role of the plot' as rule, 'waits' as effect,
    'plot ' || s.plot_key || ' of site ' || s.site_key || ' is told as ' || p.plot_kind || ' for other days than '
        || cast(s.happened as varchar) as why
from survey_now s
join plot_now p on p.site_key = s.site_key and p.plot_key = s.plot_key
where s.happened < p.role_from or s.happened > p.role_to
