-- A unit lies farther from its site than the site's radius and both uncertainties allow.
select 'deployment' as kind, x.identity, 'position beyond the site' as rule, 'caution' as effect,
    'unit ' || x.unit_key || ' lies ' || cast(cast(round(x.metres) as bigint) as varchar) || ' m from site ' || x.site_key
        || ', which reaches ' || cast(cast(round(x.allowed) as bigint) as varchar) || ' m with both uncertainties' as why
from unit_distance x
where x.metres > x.allowed
