-- one row per identity and partner whose words were taken back, by it or by the programme, unless a later ruling chose something
-- kept
with asked as (
    select w.withdraws_kind, rtrim(w.withdraws_key, ' |') as withdraws_key, w.partner, max(w.entry) as entry
    from withdrawal_said w
    cross join as_of a
    where w.entry <= a.entry and w.fate in ('entered', 'amends')
    group by w.withdraws_kind, rtrim(w.withdraws_key, ' |'), w.partner
)
select distinct p.identity, p.partner
from asked w
join part p on p.kind = w.withdraws_kind and p.key = w.withdraws_key and w.partner in (p.partner, 'programme')
left join ruled r on r.identity = p.identity and r.content is not null
where p.identity is not null and w.entry > coalesce(r.entry, 0)
