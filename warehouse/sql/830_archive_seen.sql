-- one row per published survey row that saw something: what it was, its stage, and whether it may be of a planting
-- kept
with row_seen as (
    select s.*, coalesce(s.stage, g.stage) as of_stage, case when s.stage is null then g.from_cm end as from_cm,
        case when s.stage is null then g.to_cm end as to_cm
    from survey_archive_published s
    left join setting_stage g on g.species = s.species and s.stage is null
        and s.length_cm >= g.from_cm and s.length_cm < g.to_cm
    where s.species is not null and coalesce(s.count_qualifier, '') <> 'at most'
        and (s.count > 0 or s.cover_pct > 0 or (s.count is null and s.count_qualifier = 'present'))
        and coalesce(s.count, 1) > 0
), planted as (  -- a name of wider rank, or a doubtful one, may be of the planted species
    select s.identity, p.identity as planting, p.first_on, p.plot_key, p.species,
        row_number() over (
            partition by s.identity
            order by case when p.plot_key = s.plot_key and p.first_on <= s.happened then 0 else 1 end,
                p.first_on, p.identity, p.plot_key, p.species) as nth
    from row_seen s
    join archive_planting p on p.site_key = s.site_key
    where p.species in ('', s.species) or split_part(s.species, ' ', 2) = ''
        or (split_part(s.species, ' ', 1) = split_part(p.species, ' ', 1)
            and split_part(s.species, ' ', 2) in ('sp.', 'spp.', 'cf.', 'aff.'))
), anywhere as (  -- put down at any site by then: a neighbour's spores reach over too
    select distinct s.identity
    from row_seen s
    join (select species, min(first_on) as first_on from archive_planting group by species) p on p.first_on <= s.happened
    where p.species in ('', s.species) or split_part(s.species, ' ', 2) = ''
        or (split_part(s.species, ' ', 1) = split_part(p.species, ' ', 1)
            and split_part(s.species, ' ', 2) in ('sp.', 'spp.', 'cf.', 'aff.'))
), untold_site as (
    select distinct site_key from archive_untold
), planted_site as (
    select distinct site_key from archive_planting
)
select s.identity, s.teller, s.partner, s.visit_key, s.site_key, s.plot_key, s.frame_key, s.frame_type, s.happened,
    s.species, s.of_stage, s.plant_no, s.count, s.count_qualifier, s.count_most, s.cover_pct, s.qualifier,
    s.identified_by, s.recorded_by, s.length_cm, s.fertile_count, s.alive, q.plot_kind, p.planting, y.method,
    n.plot_key is not null as is_untold,
    case
        when q.plot_kind = 'reference' then 'natural'
        when p.plot_key = s.plot_key and p.first_on <= s.happened then 'planted'
        when n.plot_key is not null then 'uncertain'
        when q.distance_planted_m > coalesce(o.dispersal_m, w.dispersal_m) then 'natural'
        when p.first_on <= s.happened then 'uncertain'
        when q.plot_kind = 'treated' then 'natural'
        when a.identity is not null or u.site_key is not null then 'uncertain'
        when q.distance_planted_m is not null and h.site_key is null then 'uncertain'
        else 'natural'
    end as origin
from row_seen s
join plot_stands q on q.site_key = s.site_key and q.plot_key = s.plot_key
left join planted p on p.identity = s.identity and p.nth = 1
left join archive_planting y on y.site_key = s.site_key and y.plot_key = p.plot_key and y.species = p.species
left join anywhere a on a.identity = s.identity
left join archive_untold n on n.site_key = s.site_key and n.plot_key = s.plot_key
left join untold_site u on u.site_key = s.site_key
left join planted_site h on h.site_key = s.site_key
left join setting_origin o on o.species = s.species and o.site_key = s.site_key
left join setting_origin w on w.species = s.species and w.site_key = '' and o.species is null
