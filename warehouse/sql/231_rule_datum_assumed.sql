-- A site's datum was not told and is read as EPSG:4326.
select 'site' as kind, s.identity, 'datum assumed' as rule, 'caution' as effect,
    'the datum of site ' || s.site_key || ' was not told; EPSG:4326 is assumed' as why
from site_now s
where s.datum is null
