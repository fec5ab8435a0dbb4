-- one row per identity taken back by the partner that said it, or by the programme, unless a later ruling brought it back
-- kept
with asked as (
    select w.withdraws_kind, rtrim(w.withdraws_key, ' |') as withdraws_key, w.partner, max(w.entry) as entry
    from withdrawal_said w
    cross join as_of a
    where w.entry <= a.entry and w.fate in ('entered', 'amends')
    group by w.withdraws_kind, rtrim(w.withdraws_key, ' |'), w.partner
)
select p.identity, max(w.entry) as entry
from asked w
join part p on p.kind = w.withdraws_kind and p.key = w.withdraws_key
left join ruled r on r.identity = p.identity
where (w.partner = 'programme' or p.partner = w.partner) and p.identity is not null
    and p.fate in ('entered', 'amends')
    and (r.content is null or r.entry < w.entry)
group by p.identity
