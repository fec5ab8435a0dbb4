-- Fronds were cut lower above the meristem than the programme allows.
select 'collection' as kind, c.identity, 'cut too low' as rule, 'caution' as effect,
    'batch ' || c.batch_key || ' was cut ' || cast(cast(c.cut_height_cm as decimal(9, 1)) as varchar)
        || ' cm above the meristem; at least ' || cast(cast(r.lowest_cm as decimal(9, 1)) as varchar) || ' cm is the rule' as why
from collection_now c
join setting_cut r on r.species = c.species
where c.cut_height_cm < r.lowest_cm
