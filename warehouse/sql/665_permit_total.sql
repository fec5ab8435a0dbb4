-- one row per permit named, kind, fitting and unit: how many events name it, how much they took or placed, and what does not fit
select u.permit_key, u.kind, u.other_activity, u.unit, max(u.quota) as quota,
    count(s.identity) as events, sum(case when s.identity is not null then u.amount end) as amount,
    sum(case when s.identity is not null and u.amount is null then 1 else 0 end) as untold,
    sum(case when s.identity is not null and u.out_of_dates then 1 else 0 end) as out_of_dates,
    sum(case when s.identity is not null and u.other_species then 1 else 0 end) as other_species,
    count(distinct case when s.identity is not null then u.partner end) as partners,
    count(*) - count(s.identity) as waiting, min(case when s.identity is not null then u.happened end) as first_on,
    max(case when s.identity is not null then u.happened end) as last_on
from permit_use u
left join (
    select identity from collection_stands
    union all
    select identity from deployment_stands
    union all
    select identity from treatment_stands
) s on s.identity = u.identity
group by u.permit_key, u.kind, u.other_activity, u.unit
