-- one row per bed and day on which it was cut: its season, and the last day before on which it was cut
select d.bed_key, s.season, d.happened, d.before
from (
    select bed_key, happened, lag(happened) over (partition by bed_key order by happened) as before
    from (select distinct bed_key, happened from collection_stands) days
) d
join season_day s on s.happened = d.happened
