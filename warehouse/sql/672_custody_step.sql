-- one row per batch put down or cut, cutting upstream, and step told between them, the cutting itself first among them
select p.batch_key, p.cutting_key, c.identity, 'cut' as step, coalesce(c.cut_from, c.cut_to, c.happened_at) as started_at,
    coalesce(c.cut_to, c.cut_from, c.happened_at) as ended_at, cast(null as decimal(18, 6)) as coolest,
    cast(null as decimal(18, 6)) as warmest, 0 as readings
from custody_path p
join collection_stands c on c.batch_key = p.cutting_key and p.between_key = p.cutting_key
union all
select p.batch_key, p.cutting_key, h.identity, h.step, h.started_at, h.ended_at, least(h.temp_min_degc, r.coolest) as coolest,
    greatest(h.temp_max_degc, r.warmest) as warmest, coalesce(r.readings, 0) as readings
from custody_path p
join handling_stands h on h.batch_key = p.between_key
left join vessel_reading r on r.identity = h.identity
