-- one row per thing told differently that a rule of the programme settles: which rule, whose word counts, and the row that says it
-- kept
-- none without setting_settling: kind varchar, identity varchar, rule integer, name varchar, content varchar, partner varchar, entry bigint, sheet varchar, row bigint, part integer
with there as (  -- who told of a dive that found the site on that day
    select distinct v.partner, v.site_key, v.happened
    from visit_said v
    cross join as_of a
    left join withdrawn g on g.identity = v.identity
    left join settled s on s.identity = v.identity
    where v.entry <= a.entry and v.fate in ('entered', 'amends') and v.outcome = 'found' and g.identity is null
        and (s.identity is null or s.content = v.content)
), asked as (  -- where the lead ruled once the lead is asked again; one partner alone is asked itself
    select w.identity, r.rule, w.partner, w.content,
        case
            when r.whose = 'partners' then p.place
            when r.whose = 'later day' then date_diff('day', w.happened, cast('2200-01-01' as date))
            when t.partner is not null then 0
        end as place
    from differing_word w
    join setting_settling r on r.kind = w.kind and r.since <= w.first_day
    left join ruled d on d.identity = w.identity
    left join setting_settling_partner p on p.rule = r.rule and p.partner = w.partner
    left join there t on t.partner = w.partner and t.site_key = w.site_key and t.happened = w.happened
    where d.identity is null and w.partners > 1
), column_apart as (  -- parted before they are joined: Spark knows the parts only after all that stands beside them
    select w.identity, w.kind, c.name
    from differing_word w
    cross join unnest(string_split(trim(w.columns_apart), ' ')) as c(name)
), beyond as (  -- words that differ in more than the rule speaks of
    select distinct c.identity, r.rule
    from column_apart c
    join setting_settling r on r.kind = c.kind and r.any_column = 0
    left join setting_settling_column o on o.rule = r.rule and o.name = c.name
    where c.name <> '' and o.name is null
), first as (
    select q.identity, q.rule, min(q.place) as place
    from asked q
    left join beyond b on b.identity = q.identity and b.rule = q.rule
    where q.place is not null and b.identity is null
    group by q.identity, q.rule
), chosen as (  -- two who come first and differ settle nothing
    select q.identity, q.rule, min(q.content) as content, min(q.partner) as partner
    from asked q
    join first f on f.identity = q.identity and f.rule = q.rule and f.place = q.place
    group by q.identity, q.rule
    having count(distinct q.content) = 1
), one as (
    select identity, min(rule) as rule from chosen group by identity
), ranked as (
    select p.kind, c.identity, c.rule, c.content, c.partner, p.entry, p.sheet, p.row, p.part,
        row_number() over (
            partition by c.identity
            order by case when p.partner = c.partner then 0 else 1 end, p.entry, p.sheet, p.row, p.part) as nth
    from chosen c
    join one o on o.identity = c.identity and o.rule = c.rule
    join part p on p.identity = c.identity and p.content = c.content
    cross join as_of a
    where p.fate in ('entered', 'amends', 'conflict', 'question') and p.entry <= a.entry
)
select r.kind, r.identity, r.rule, s.name, r.content, r.partner, r.entry, r.sheet, r.row, r.part
from ranked r
join setting_settling s on s.rule = r.rule
where r.nth = 1
