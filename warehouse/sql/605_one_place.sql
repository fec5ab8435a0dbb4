-- one row per direct cost that was for one site only
select identity, min(site_key) as site_key from cost_place group by identity having count(distinct site_key) = 1
