-- one row per permit for placing that names a species: units under it with tissue of another
select d.permit_key, count(distinct d.identity) as units
from deployment_stands d
join permit_now p on p.permit_key = d.permit_key and p.species is not null
join deployment_batch b on b.identity = d.identity
join batch_source s on s.batch_key = b.batch_key
join collection_stands c on c.batch_key = s.cutting_key and c.species <> p.species
group by d.permit_key
