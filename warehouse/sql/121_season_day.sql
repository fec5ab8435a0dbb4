-- one row per day on which anyone cut at a bed: the season it belongs to, named by the year or years it spans
select happened, year,
    case when starts = 1 then cast(year as varchar)
        else cast(year as varchar) || '/' || substr(cast(year + 1 as varchar), 3, 2) end as season
from (
    select c.happened, s.season_starts_month as starts,
        extract(year from c.happened)
            - case when extract(month from c.happened) < s.season_starts_month then 1 else 0 end as year
    from (select distinct happened from collection_said where happened is not null) c
    cross join setting_donor s
) dated
