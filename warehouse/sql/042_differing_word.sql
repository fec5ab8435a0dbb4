-- one row per thing of a shared code that is told differently and last word of it: whose, of which day, and in which columns the words differ
-- kept
-- for all shared kinds
with word as (
    select distinct l.identity, l.partner, l.content, k.happened, {site} as site_key
    from differing d
    join last_word l on l.identity = d.identity
    join {kind}_said k on k.identity = l.identity and k.content = l.content
    where k.fate <> 'faulty'
), apart as (
    select l.identity, {apart} as columns_apart
    from differing d
    join last_word l on l.identity = d.identity
    join {kind}_said k on k.identity = l.identity and k.content = l.content
    where k.fate <> 'faulty'
    group by l.identity
), first as (
    select identity, min(happened) as first_day, count(distinct partner) as partners from word group by identity
)
select '{kind}' as kind, w.identity, w.partner, w.content, w.happened, w.site_key, a.columns_apart, f.first_day, f.partners
from word w
join apart a on a.identity = w.identity
join first f on f.identity = w.identity
