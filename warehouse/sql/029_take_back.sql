-- one row per kind, key and partner that takes it back: the last withdrawal by the asked entry
-- kept
select w.withdraws_kind, rtrim(w.withdraws_key, ' |') as withdraws_key, w.partner, max(w.entry) as entry
from withdrawal_said w
cross join as_of a
where w.entry <= a.entry and w.fate in ('entered', 'amends')
group by w.withdraws_kind, rtrim(w.withdraws_key, ' |'), w.partner
