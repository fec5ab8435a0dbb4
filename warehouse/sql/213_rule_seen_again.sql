-- A unit recorded as missed was seen attached later: the loss is cancelled and counts as a miss of the search.
select 'loss' as kind, l.identity, 'lost unit seen again' as rule, 'caution' as effect,
    'unit ' || l.unit_key || ' was missed on ' || cast(l.happened as varchar)
        || ' and seen again on ' || cast(max(c.happened) as varchar) as why
from loss_now l
join check_now c on c.unit_key = l.unit_key
where l.how_known = 'missed' and c.state in ('attached', 'torn', 'empty', 'retrieved') and c.happened >= l.happened
group by l.identity, l.unit_key, l.happened
