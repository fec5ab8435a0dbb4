-- one row per identity and partner whose words were taken back, by it or by the programme, unless a later ruling chose something
-- kept
select distinct p.identity, p.partner
from take_back w
join part p on p.kind = w.withdraws_kind and p.key = w.withdraws_key and w.partner in (p.partner, 'programme')
left join ruled r on r.identity = p.identity and r.content is not null
where p.identity is not null and w.entry > coalesce(r.entry, 0)
