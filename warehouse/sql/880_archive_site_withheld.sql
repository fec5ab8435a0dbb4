-- one row per site of which something stands that is not published, so that no figure of it may be either
select distinct s.site_key
from archive_left_out_survey x join survey_stands s on s.identity = x.identity
union
select distinct d.site_key
from archive_left_out_deployment x join deployment_stands d on d.identity = x.identity
union
select distinct coalesce(c.site_key, d.site_key) as site_key
from archive_left_out_check x
join check_stands c on c.identity = x.identity
left join deployment_stands d on d.unit_key = c.unit_key
union
select distinct d.site_key
from archive_left_out_loss x
join loss_stands l on l.identity = x.identity
join deployment_stands d on d.unit_key = l.unit_key
