-- one row per reading of temperature that stands, with the reason why no figure may use it, '' where it counts
select n.identity, n.partner, n.logger_key, coalesce(n.site_key, '') as site_key, n.quantity, n.happened, n."at" as read_at, n.value,
    n.accuracy, n.calibrated_on, n.time_offset_s,
    case
        when lower(trim(n.unit)) not in ('degc', 'deg c', '°c', 'c', 'celsius') then 'in another unit than degC'
        when n.flag in ('doubtful', 'bad') then 'flagged doubtful or bad'
        when n."at" < n.in_water_from or n."at" > n.in_water_to then 'taken out of the water'
        when n.value < r.least_degc or n.value > r.most_degc then 'as no sea here can have them'
        else ''
    end as left_out
from reading_stands n
cross join setting_temperature r
where n.quantity in ('temperature', 'lowest temperature of the day', 'highest temperature of the day')
