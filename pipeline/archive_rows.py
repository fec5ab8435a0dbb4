"""What was seen and measured at an archive's events, from the views: occurrences, facts, and how well was searched.

Works on the temp tables that `archive_events` leaves in a session.
"""

from collections.abc import Mapping, Sequence

from pipeline.archive.codes import LIFE_STAGES, MEASURES, STAGE_IDS
from pipeline.archive.planted import TOLD_AS_WILD
from pipeline.archive.taxa import TAXON_COLUMNS, Taxon
from pipeline.archive_events import fill
from warehouse.asking import Asking

Person = tuple[str, str, str]  # code, name, ORCID ("" where none)
OriginRow = tuple[str, str, str, str, str, str, str]  # species, site, how, method; means, degree, pathway

_SEEN = """
create temp table ar_occurrence as
select ar_id('survey', s.identity) as id, ar_id('frame', ar_frame(s.partner, s.visit_key, s.site_key, s.plot_key, s.frame_key))
        as event, s.identity, s.species,
    case when s.frame_type = 'photo' then 'MachineObservation' else 'HumanObservation' end as basis, 'present' as status,
    concat_ws(' ', t."identificationQualifier", case when s.qualifier <> '' then coalesce(ar_word(s.qualifier), '?') end) as qualifier, s.identified_by, s.recorded_by, s.count,
    s.cover_pct, s.of_stage as stage, s.fertile_count, s.alive, nullif(o.means, '') as means, nullif(o.degree, '') as degree,
    nullif(o.pathway, '') as pathway, concat_ws('; ',
        case when s.of_stage is not null then 'stage by the programme''s rule: ' || s.of_stage end,
        case when s.count_qualifier = 'between' then 'counted between ' || s.count || ' and ' || coalesce(s.count_most, s.count)
            when s.count_qualifier in ('about', 'at least') then 'counted ' || s.count_qualifier || ' ' || s.count
            when s.count_qualifier = 'present' then 'there, not counted' end,
        case when s.origin = 'planted' then coalesce('in a plot planted since ' || e.first_on || ', event ' || e.id, 'in a plot that was planted')
            when s.origin = 'uncertain' and s.is_untold then 'in a treated plot of which no planting is told yet'
            when s.origin = 'uncertain' then coalesce('in reach of what was planted since ' || e.first_on || ', event ' || e.id,
                'may be in reach of what was planted') end
    ) as remarks
from archive_seen s
join ar_taxon t on t.species = s.species
join ar_event f on f.id = ar_id('frame', ar_frame(s.partner, s.visit_key, s.site_key, s.plot_key, s.frame_key))
left join ar_origin o on o.species = s.species and o.site_key = s.site_key and o.how = s.origin and o.method = coalesce(s.method, '')
left join ar_event e on e.id = ar_id('deployment', s.planting) and e.first_on <= s.happened
union all
select ar_id('absence', ar_absence(a.partner, a.visit_key, a.site_key, a.plot_key, a.frame_key, a.species)), f.id, null, a.species,
    case when f.type = 'photo' then 'MachineObservation' else 'HumanObservation' end, 'absent', t."identificationQualifier",
    null, null, null, null, null, null, null, null, null, null,
    'every stage that the protocol ' || a.protocol || ' searches for was searched: none'
from archive_absent a
join ar_taxon t on t.species = a.species
join ar_event f on f.id = ar_id('frame', ar_frame(a.partner, a.visit_key, a.site_key, a.plot_key, a.frame_key))
union all
select ar_id('collection', c.identity), ar_id('collection', c.identity), c.identity, c.species, 'MaterialSample', 'present',
    t."identificationQualifier", null, c.recorded_by, c.plants_cut, null, null, c.plants_cut, null, nullif(o.means, ''),
    nullif(o.degree, ''), nullif(o.pathway, ''), 'plants of the donor bed that fertile tissue was cut from; count: plants'
from collection_archive_published c
join ar_taxon t on t.species = c.species
join ar_event e on e.id = ar_id('collection', c.identity)
left join ar_origin o on o.species = c.species and o.site_key = '' and o.how = 'natural' and o.method = ''
"""
_OCCURRENCES = f"""
select o.event as "eventID", o.id as "occurrenceID", o.basis as "basisOfRecord", o.status as "occurrenceStatus",
    {", ".join(f't."{c}"' for c in TAXON_COLUMNS.split(", ")[1:-1])}, o.qualifier as "identificationQualifier",
    i.name as "identifiedBy", r.name as "recordedBy", r.orcid as "recordedByID", cast(o.count as varchar) as "individualCount",
    ar_num(o.cover_pct) as "organismQuantity",
    case when o.cover_pct is not null then 'percentageCoverage' end as "organismQuantityType", l.stage as "lifeStage",
    case when o.fertile_count > 0 then 'fertile' end as "reproductiveCondition",
    case when o.alive then 'alive' when not o.alive then 'dead' end as "vitality", o.means as "establishmentMeans",
    o.degree as "degreeOfEstablishment", o.pathway, o.remarks as "occurrenceRemarks"
from ar_occurrence o
join ar_taxon t on t.species = o.species
left join ar_life_stage l on l.of_stage = o.stage
left join ar_person i on i.code = o.identified_by
left join ar_person r on r.code = o.recorded_by
"""
# Facts: whose they are, a name that makes their id, the measure, the value, the day, remarks.
_FACT = "event varchar, occurrence varchar, subject varchar, name varchar, measure varchar, value varchar, unit varchar, day date, method varchar, remarks varchar"  # fmt: skip
_OF_ROWS = {  # kind -> columns of it that are facts of its event (or, for a survey, of its occurrence)
    "visit": ("team", "bottom_time_min", "visibility_m", "surge", "current", "water_temp_degc", "max_depth_m"),
    "deployment": ("unit_count", "area_treated_m2", "depth_m", "mass_kg", "fixing", "seed_density_per_cm2"),
    "treatment": ("area_m2", "amount"),
    "collection": ("plants_cut", "blades_cut", "fertile_mass_kg", "parents", "cut_height_cm", "depth_m", "water_temp_degc"),
}  # fmt: skip
_WORDS = ("none", "slight", "strong")  # what may be published of columns in which anybody may write anything
_DERIVED = """
select o.event, o.id, o.id, 'cover_pct', 'cover_pct', ar_num(o.cover_pct), null, null, null, null
from ar_occurrence o where o.cover_pct is not null
union all
select o.event, o.id, o.id, 'length_cm', 'length_cm', ar_num(s.length_cm), null, null, null, null
from ar_occurrence o join archive_seen s on s.identity = o.identity where s.length_cm is not null
union all
select o.event, o.id, o.id, 'stage', 'stage', o.stage, null, null, null, null
from ar_occurrence o where o.stage is not null and o.stage <> 'any'
union all
select o.event, o.id, o.id, 'fertile_count', 'fertile_count', cast(o.fertile_count as varchar), null, null, null, null
from ar_occurrence o where o.fertile_count is not null and o.basis <> 'MaterialSample'
union all
select ar_id('frame', f.hash), null, ar_id('frame', f.hash), 'area_m2', 'frame_area_m2', ar_num(f.area_m2), null, null, null, null
from ar_frames f where f.area_m2 is not null
union all
select ar_id('frame', f.hash), null, ar_id('frame', f.hash), 'depth_m', 'depth_m', ar_num(f.depth_min_m), null, null, null, null
from ar_frames f where f.depth_min_m is not null and f.depth_min_m = f.depth_max_m
union all
select ar_id('logger', l.hash), null, ar_id('logger', l.hash), cast(l.happened as varchar), 'mean_degc', ar_num(l.mean_degc), null,
    l.happened, 'mean of the readings of a local day', 'of ' || l.readings || ' readings'
from ar_logger_days l
union all
select x.event, x.occurrence, x.frame, 'density:' || left(sha256(x.species || chr(31) || x.stage), 16),
    case when x.occurrence is null then 'zero_density' else 'density' end, ar_num(x.per_m2), null, null,
    'individuals counted in the frame over its area', x.species || ', ' || x.stage || ': ' || x.count || ' on '
        || ar_num(x.area_m2) || ' square metres'
from (
    select f.id as event, f.id as frame, coalesce(o.id, n.id) as occurrence, d.*
    from archive_density d
    join ar_taxon t on t.species = d.species
    join ar_event f on f.id = ar_id('frame', ar_frame(d.partner, d.visit_key, d.site_key, d.plot_key, d.frame_key))
    left join ar_occurrence o on o.identity = d.seen and d.count > 0
    left join ar_occurrence n on d.count = 0
        and n.id = ar_id('absence', ar_absence(d.partner, d.visit_key, d.site_key, d.plot_key, d.frame_key, d.species))
) x
where x.per_m2 is not null
union all
select e.id, null, ar_id('check', c.identity), 'state', 'state', c.state, null, c.happened, 'looked for by divers',
    case when c.search_time_min is not null then 'searched for ' || ar_num(c.search_time_min)
        || case when c.search_time_min = 1 then ' minute' else ' minutes' end end
from check_archive_published c
join deployment_archive_published d on d.unit_key = c.unit_key
join ar_event e on e.id = ar_id('deployment', d.identity)
union all
select e.id, null, ar_id('check', c.identity), 'count_found', 'count_found', cast(c.count_found as varchar), null, c.happened,
    'looked for by divers', null
from check_archive_published c
join deployment_archive_published d on d.unit_key = c.unit_key
join ar_event e on e.id = ar_id('deployment', d.identity)
where c.count_found is not null
union all
select e.id, null, ar_id('loss', l.identity), 'how_known', 'how_known', l.how_known, null, l.happened, null, null
from loss_archive_published l
join deployment_archive_published d on d.unit_key = l.unit_key
join ar_event e on e.id = ar_id('deployment', d.identity)
union all
select e.id, null, ar_id('loss', l.identity), 'cause', 'cause', l.cause, null, l.happened, null, 'the cause is ' || l.cause_basis
from loss_archive_published l
join deployment_archive_published d on d.unit_key = l.unit_key
join ar_event e on e.id = ar_id('deployment', d.identity)
where l.cause is not null
"""
_FACTS = """
select f.event as "eventID", f.subject || ':' || f.name as "measurementID", f.occurrence as "occurrenceID",
    m.type as "measurementType", m.type_id as "measurementTypeID", f.value as "measurementValue",
    case when f.measure = 'stage' then s.id end as "measurementValueID", coalesce(nullif(m.unit, ''), f.unit) as "measurementUnit",
    m.unit_id as "measurementUnitID",
    cast(case when f.measure like 'figure:%' then f.day else coalesce(f.day, e.first_on) end as varchar) as "measurementDeterminedDate",
    f.method as "measurementMethod", f.remarks as "measurementRemarks"
from ar_fact f
join ar_measure m on m.name = f.measure
join ar_event e on e.id = f.event
left join ar_stage_id s on s.stage = f.value
"""
_HUMBOLDT = """
with what as (  -- a list of names is text: the distinct ones in order, parted as the standard wants
    select o.event, string_agg(distinct o.species, ' | ' order by o.species) filter (where o.status = 'absent') as absent,
        string_agg(distinct o.species, ' | ' order by o.species) filter (where o.status = 'present' and x.species is null) as beside
    from ar_occurrence o
    join ar_frames f on ar_id('frame', f.hash) = o.event
    left join ar_target x on x.protocol = f.protocol and x.species = o.species
    group by o.event
)
select ar_id('frame', f.hash) as "eventID", 'restrictedSearch' as "inventoryTypes", s.protocol as "protocolNames",
    s.says as "protocolDescriptions", ar_num(f.area_m2) as "geospatialScopeAreaValue",
    case when f.area_m2 is not null then 'm²' end as "geospatialScopeAreaUnit", ar_num(f.area_m2) as "totalAreaSampledValue",
    case when f.area_m2 is not null then 'm²' end as "totalAreaSampledUnit", null as "eventDurationValue", null as "eventDurationUnit",
    t.taxa as "targetTaxonomicScope", case when t.taxa is null then null when c.partner is null then 'false' else 'true' end
        as "isTaxonomicScopeFullyReported",
    case when w.absent is not null and t.taxa is not null and c.partner is not null then 'true' else 'false' end as "isAbsenceReported",
    case when t.taxa is not null and c.partner is not null then w.absent end as "absentTaxa",
    case when t.taxa is null then null when w.beside is not null then 'true' when not ar_withheld() then 'false' end as "hasNonTargetTaxa",
    case when t.taxa is not null then w.beside end as "nonTargetTaxa",
    case when t.taxa is not null and w.beside is not null then 'false' end as "areNonTargetTaxaFullyReported",
    t.stages as "targetLifeStageScope", case when t.stages is null then null when c.partner is null then 'false' else 'true' end
        as "isLifeStageScopeFullyReported",
    case when f.counts > 0 then 'true' else 'false' end as "isAbundanceReported", 'false' as "isAbundanceCapReported",
    case when f.covers > 0 then 'true' else 'false' end as "isVegetationCoverReported",
    case when f.has_whole = 1 and f.has_stage = 1 then 'true' else 'false' end as "isLeastSpecificTargetCategoryQuantityInclusive",
    case when f.area_m2 is not null then 'true' else 'false' end as "isSamplingEffortReported",
    case when f.area_m2 is not null then 'area searched' end as "samplingEffortProtocol", ar_num(f.area_m2) as "samplingEffortValue",
    case when f.area_m2 is not null then 'm²' end as "samplingEffortUnit", null as "hasMaterialSamples"
from ar_frames f
left join ar_scope s on s.protocol = f.protocol
left join ar_scope_taxa t on t.protocol = f.protocol and t.dated < f.first_on
left join archive_full c on c.partner = f.partner and c.visit_key = f.visit_key and c.site_key = f.site_key
    and c.plot_key = f.plot_key and c.frame_key = f.frame_key
left join what w on w.event = ar_id('frame', f.hash)
union all
select ar_id('visit', v.hash), 'restrictedSearch', null, null, null, null, null, null, ar_num(v.bottom_time_min), 'minutes', null, null,
    'false', null, null, null, null, null, null, null, null, null, null, 'true',
    case when v.team is null then 'time on the bottom' else 'divers times time on the bottom' end,
    ar_num(coalesce(v.team, 1) * v.bottom_time_min), case when v.team is null then 'minutes' else 'diver-minutes' end, null
from ar_visits v
where v.bottom_time_min is not null
union all
select e.id, 'opportunisticSearch', null, null, null, null, null, null, null, null, null, null, 'false', null, null, null, null, null,
    null, null, null, null, null, 'false', null, null, null, 'true'
from ar_event e where e.type = 'collection'
"""


def make_occurrences(
    con: Asking,
    taxa: Sequence[Taxon],
    people: Sequence[Person],
    origins: Sequence[OriginRow],
    withheld: bool,
) -> None:
    """Make `ar_occurrence`. taxa: those that may be published; people: those who may be named.

    withheld: whether anything that was seen is not told, so that no frame says that nothing else was there.
    """
    con.execute(f"create temp macro ar_withheld() as {str(withheld).lower()}")
    con.execute("create temp table ar_taxon (" + ", ".join(f'"{c}" varchar' for c in TAXON_COLUMNS.split(", ")) + ")")
    fill(con, "ar_taxon", taxa)
    con.execute("create temp table ar_person (code varchar, name varchar, orcid varchar)")
    fill(con, "ar_person", people)
    con.execute(
        "create temp table ar_origin (species varchar, site_key varchar, how varchar, method varchar, means varchar, "
        "degree varchar, pathway varchar)"
    )
    fill(con, "ar_origin", origins)
    con.execute("create temp table ar_life_stage (of_stage varchar, stage varchar)")
    fill(con, "ar_life_stage", list(LIFE_STAGES.items()))
    con.execute(_SEEN)


def told_as_wild(con: Asking) -> list[tuple[str, str, str, str, int]]:
    """Occurrences that would publish a planting as wild: id, species, and partner, file and row that said each."""
    return con.sql(
        f"""select o.id, o.species, min(e.partner), min(e.name), min(p.row)
            from ar_occurrence o
            join archive_planted_seen x on x.identity = o.identity
            join archive_seen s on s.identity = o.identity
            join part p on p.kind = 'survey' and p.identity = o.identity
            join entry e on e.number = p.entry
            where {TOLD_AS_WILD} group by o.id, o.species order by 3, 4, 5, 1"""
    ).fetchall()


def make_facts(
    con: Asking,
    figures: Sequence[tuple[object, ...]],
    measures: Sequence[tuple[str, str, str, str, str]],
) -> None:
    """Make `ar_fact`. figures: facts of sites and of the programme, in its columns; measures: what those measure."""
    con.execute(
        "create temp table ar_measure (name varchar, type varchar, type_id varchar, unit varchar, unit_id varchar)"
    )
    fill(con, "ar_measure", [(name, m.type, m.type_id, m.unit, m.unit_id) for name, m in MEASURES.items()])
    fill(con, "ar_measure", measures)
    con.execute("create temp table ar_stage_id (stage varchar, id varchar)")
    fill(con, "ar_stage_id", list(STAGE_IDS.items()))
    con.execute(f"create temp table ar_fact ({_FACT})")
    for kind, columns in _OF_ROWS.items():
        for column in columns:
            con.execute(f"insert into ar_fact {_of_row(kind, column)}")
    con.execute(f"insert into ar_fact {_DERIVED}")
    fill(con, "ar_fact", figures)


def _of_row(kind: str, column: str) -> str:
    event = "ar_id('visit', v.hash)" if kind == "visit" else f"ar_id('{kind}', k.identity)"
    dive = "join ar_visits v on v.identity = k.identity" if kind == "visit" else ""
    allowed = f" and k.{column} in ({', '.join(repr(w) for w in _WORDS)})" if column in ("surge", "current") else ""
    unit = "ar_word(k.amount_unit)" if column == "amount" else "null"
    allowed += f" and {unit} is not null" if column == "amount" else ""  # a number of nobody knows what tells nothing
    return (
        f"select e.id, null, e.id, '{column}', '{column}', ar_num(k.{column}), {unit}, null, null, null "
        f"from {kind}_archive_published k {dive} join ar_event e on e.id = {event} where k.{column} is not null{allowed}"
    )


def make_scopes(
    con: Asking,
    targets: Sequence[tuple[str, str]],
    scopes: Sequence[tuple[str, object, str, str]],
) -> None:
    """Tables of what protocols search. targets: protocol and species; scopes: protocol, its day, species and stages as lists."""
    con.execute("create temp table ar_target (protocol varchar, species varchar)")
    fill(con, "ar_target", targets)
    con.execute("create temp table ar_scope_taxa (protocol varchar, dated date, taxa varchar, stages varchar)")
    fill(con, "ar_scope_taxa", scopes)


QUERIES: Mapping[str, str] = {"occurrence": _OCCURRENCES, "extendedmeasurementorfact": _FACTS, "humboldt": _HUMBOLDT}
