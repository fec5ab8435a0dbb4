"""The events of an archive, from the views: every one with its place, days and depths, inside a parent that contains it.

Works on a session's connection and leaves temp tables there. An identifier is the programme's key, the kind and the
identity's hash; a thing without an event of its own (a frame, a plot on a dive) has the same hash of what its rows
name it by, so that no export, amendment or retake changes it.
"""

import datetime as dt
from collections.abc import Collection, Sequence
from dataclasses import astuple, fields

from pipeline.archive.places import Place
from pipeline.ledger.identity import identity_sql
from schemas.kinds import all_kinds
from warehouse.asking import Asking, make_view
from warehouse.sqlfiles import ALL, ARCHIVES, read_views

_VISIT = "ar_cell(visit_key) || ' | ' || ar_cell(site_key)"  # a dive may be told of two sites, in whatever order
_PLOT = _VISIT + " || ' | ' || ar_cell(plot_key)"
_FRAME = _PLOT + " || ' | ' || ar_cell(frame_key)"
_ABSENCE = _FRAME + " || ' | ' || ar_cell(species)"
_LOGGER = "ar_cell(logger_key) || ' | ' || ar_cell(site_key)"
# name of the macro -> kind, columns it is given besides the partner, the key that is hashed
_HASHES = {
    "ar_visit": ("visit", "visit_key, site_key", _VISIT),
    "ar_plot": ("plot", "visit_key, site_key, plot_key", _PLOT),
    "ar_frame": ("frame", "visit_key, site_key, plot_key, frame_key", _FRAME),
    "ar_absence": ("absence", "visit_key, site_key, plot_key, frame_key, species", _ABSENCE),
    "ar_logger": ("logger", "logger_key, site_key", _LOGGER),
}

_EVENT = (
    "id varchar, parent varchar, type varchar, teller varchar, place_kind varchar, place_key varchar, first_on date, "
    "last_on date, depth_min decimal(18, 6), depth_max decimal(18, 6), protocol varchar, sample varchar, sample_unit varchar, "
    "effort varchar, remarks varchar, latitude varchar, longitude varchar, uncertainty varchar, habitat varchar, outline varchar, plot varchar"
)
# Leaves first: what each says of itself. `p` is the place. Own positions only where the site is not blurred.
_LEAVES = """
select ar_id('frame', f.hash), ar_id('plot', f.plot_hash), f.frame_type, f.teller, 'site', f.site_key, f.first_on, f.last_on,
    coalesce(f.depth_min_m, q.depth_m, p.depth_min_m), coalesce(f.depth_max_m, q.depth_m, p.depth_max_m),
    coalesce(s.says, f.frame_type), coalesce(ar_num(f.area_m2), cast(f.points as varchar)),
    case when f.area_m2 is not null then 'square metre' when f.points is not null then 'points' end,
    '1 ' || f.frame_type, f.placement || ' placement in a ' || q.plot_kind || ' plot', null, null, null,
    coalesce(q.substrate, p.habitat), null, q.identity
from ar_frames f
join ar_place p on p.kind = 'site' and p.key = f.site_key
join plot_stands q on q.site_key = f.site_key and q.plot_key = f.plot_key
left join ar_scope s on s.protocol = f.protocol
union all
select ar_id('deployment', d.identity), ar_id('site', p.identity), 'deployment', d.teller, 'site', d.site_key, d.happened,
    d.happened, coalesce(d.depth_m, q.depth_m, p.depth_min_m), coalesce(d.depth_m, q.depth_m, p.depth_max_m),
    'units of kelp restoration put down' || coalesce(': ' || ar_word(d.method), ''), ar_num(d.area_treated_m2),
    case when d.area_treated_m2 is not null then 'square metre' end, cast(coalesce(d.unit_count, 1) as varchar) || ' put down',
    'planting in a ' || coalesce(q.plot_kind, 'treated') || ' plot: units and spores are no occurrences',
    case when own then ar_num(d.latitude) end, case when own then ar_num(d.longitude) end, case when own then ar_num(d.uncertainty_m) end,
    coalesce(q.substrate, p.habitat), null, q.identity
from (
    select d.*, p.level = 'none' and d.latitude is not null and coalesce(d.datum, 'EPSG:4326') = 'EPSG:4326' as own
    from deployment_archive_published d
    join ar_place p on p.kind = 'site' and p.key = d.site_key
) d
join ar_place p on p.kind = 'site' and p.key = d.site_key
left join plot_stands q on q.site_key = d.site_key and q.plot_key = d.plot_key
union all
select ar_id('treatment', t.identity), ar_id('site', p.identity), 'site preparation', t.teller, 'site', t.site_key, t.happened,
    t.happened, coalesce(q.depth_m, p.depth_min_m), coalesce(q.depth_m, p.depth_max_m), 'preparation of a plot: ' || t.action,
    ar_num(t.area_m2), 'square metre', ar_num(t.effort_person_min) || ' person-minutes',
    t.action || ' in a ' || coalesce(q.plot_kind, 'treated') || ' plot', null, null, null, coalesce(q.substrate, p.habitat), null, q.identity
from treatment_archive_published t
join ar_place p on p.kind = 'site' and p.key = t.site_key
left join plot_stands q on q.site_key = t.site_key and q.plot_key = t.plot_key
union all
select ar_id('logger', l.hash), ar_id('site', any_value(p.identity)), 'logger', min(l.teller), 'site', l.site_key, min(l.happened),
    max(l.happened), min(coalesce(l.depth_min_m, p.depth_min_m)), max(coalesce(l.depth_max_m, p.depth_max_m)),
    'temperature logger, means of local days', cast(count(*) as varchar), 'day', cast(sum(l.readings) as varchar) || ' readings',
    null, null, null, null, any_value(p.habitat), null, null
from ar_logger_days l
join ar_place p on p.kind = 'site' and p.key = l.site_key
group by l.hash, l.site_key
union all
select ar_id('collection', c.identity), ar_id('programme', '0'), 'collection', c.teller, 'bed', c.bed_key, c.happened, c.happened,
    coalesce(c.depth_m, p.depth_min_m), coalesce(c.depth_m, p.depth_max_m), 'cutting of fertile tissue from a donor bed',
    cast(c.plants_cut as varchar), 'plants', null, 'tissue of a donor bed, taken for planting elsewhere', null, null, null,
    p.habitat, null, null
from collection_archive_published c
join ar_place p on p.kind = 'bed' and p.key = c.bed_key
"""
_PLOTS = """
select ar_id('plot', f.plot_hash), any_value(ar_id('visit', v.hash)), 'plot', min(f.teller), 'site', f.site_key,
    min(e.first_on), max(e.last_on), min(e.depth_min), max(e.depth_max),
    case when min(e.protocol) = max(e.protocol) then min(e.protocol) else 'several protocols: see the frames' end,
    case when count(f.area_m2) = count(*) then ar_num(sum(f.area_m2)) end,
    case when count(f.area_m2) = count(*) then 'square metre' end, cast(count(*) as varchar) || case when count(*) = 1 then ' frame' else ' frames' end,
    any_value(q.plot_kind) || ' plot of ' || any_value(ar_num(q.area_m2)) || ' square metres', null, null, null,
    any_value(coalesce(q.substrate, p.habitat)), any_value(case when p.level = 'none' then q.outline end),
    any_value(q.identity)
from ar_frames f
join ar_event e on e.id = ar_id('frame', f.hash)
join ar_visits v on v.partner = f.partner and v.visit_key = f.visit_key and v.site_key = f.site_key
join ar_place p on p.kind = 'site' and p.key = f.site_key
join plot_stands q on q.site_key = f.site_key and q.plot_key = f.plot_key
group by f.plot_hash, f.site_key
"""
_VISITS = """
select ar_id('visit', v.hash), ar_id('site', p.identity), 'siteVisit', v.teller, 'site', v.site_key,
    least(v.first_on, e.first_on), greatest(v.last_on, e.last_on), least(e.depth_min, p.depth_min_m),
    greatest(e.depth_max, v.depth_max_m, p.depth_max_m), coalesce(e.protocol, 'dive'),
    coalesce(e.sample, ar_num(v.bottom_time_min)),
    coalesce(e.sample_unit, case when v.bottom_time_min is not null then 'minute' end),
    coalesce(ar_num(v.team * v.bottom_time_min) || ' diver-minutes', ar_num(v.bottom_time_min) || ' minutes',
        cast(v.team as varchar) || ' divers', e.effort), 'one dive', null, null, null, p.habitat, null, null
from ar_visits v
join ar_place p on p.kind = 'site' and p.key = v.site_key
left join (
    select parent, min(first_on) as first_on, max(last_on) as last_on, min(depth_min) as depth_min, max(depth_max) as depth_max,
        case when min(protocol) = max(protocol) then min(protocol) else 'several protocols: see the frames' end as protocol,
        case when count(sample) = count(*) and max(sample_unit) = 'square metre'
            then ar_num(sum(cast(sample as decimal(18, 6)))) end as sample,
        case when count(sample) = count(*) and max(sample_unit) = 'square metre' then 'square metre' end as sample_unit,
        cast(count(*) as varchar) || case when count(*) = 1 then ' plot' else ' plots' end as effort
    from ar_event where type = 'plot' group by parent
) e on e.parent = ar_id('visit', v.hash)
"""
_SITES = """
select ar_id('site', p.identity), ar_id('programme', '0'), 'site', 'programme', 'site', p.key, min(e.first_on), max(e.last_on),
    least(min(e.depth_min), any_value(p.depth_min_m)), greatest(max(e.depth_max), any_value(p.depth_max_m)),
    'monitoring of a restoration site: see the events at it', cast(count(*) as varchar), 'events', null,
    'a site of a programme of kelp restoration', null, null, null, any_value(p.habitat),
    any_value(nullif(p.outline, '')), null
from ar_event e
join ar_place p on p.kind = 'site' and p.key = e.place_key
where e.place_kind = 'site'
group by p.identity, p.key
"""
_PROGRAMME = """
select ar_id('programme', '0'), null, 'Project', 'programme', 'programme', '', min(first_on), max(last_on), min(depth_min),
    max(depth_max), 'a programme of kelp restoration: see its events', cast(count(*) as varchar), 'events', null,
    'the programme as a whole', null, null, null, null, null, null
from ar_event having count(*) > 0
"""
_WRITTEN = """
select e.id as "eventID", e.parent as "parentEventID", e.type as "eventType", 'Event' as "type",
    case when e.first_on = e.last_on then cast(e.first_on as varchar)
        else cast(e.first_on as varchar) || '/' || cast(e.last_on as varchar) end as "eventDate",
    case when year(e.first_on) = year(e.last_on) then year(e.first_on) end as "year",
    case when date_trunc('month', e.first_on) = date_trunc('month', e.last_on) then month(e.first_on) end as "month",
    case when e.first_on = e.last_on then day(e.first_on) end as "day",
    ar_word(e.habitat) as habitat, e.protocol as "samplingProtocol", e.sample as "sampleSizeValue", e.sample_unit as "sampleSizeUnit",
    e.effort as "samplingEffort", e.remarks as "eventRemarks", coalesce(ar_id('place', e.plot), ar_id(p.kind, p.identity)) as "locationID", p.locality,
    p.water_body as "waterBody", p.country as "countryCode", ar_num(e.depth_min) as "minimumDepthInMeters",
    ar_num(e.depth_max) as "maximumDepthInMeters", coalesce(e.latitude, p.latitude) as "decimalLatitude",
    coalesce(e.longitude, p.longitude) as "decimalLongitude", 'EPSG:4326' as "geodeticDatum",
    coalesce(e.uncertainty, p.uncertainty_m) as "coordinateUncertaintyInMeters",
    case when e.latitude is null then p.precision end as "coordinatePrecision", e.outline as "footprintWKT",
    case when e.outline is not null then 'EPSG:4326' end as "footprintSRS", p.remarks as "georeferenceRemarks",
    p.withheld as "informationWithheld", p.generalised as "dataGeneralizations", r.licence as "license",
    r.holder as "rightsHolder"
from ar_event e
join ar_place p on p.kind = e.place_kind and p.key = e.place_key
left join ar_rights r on r.partner = e.teller
"""


def prepare(
    con: Asking,
    programme: str,
    places: Sequence[Place],
    scopes: Sequence[tuple[str, str]],
    rights: Sequence[tuple[str, str, str]],
    words: Collection[str],
) -> None:
    """Macros for identifiers and texts; tables of what may be seen.

    scopes: protocol and what it says. rights: partner, address of its licence, holder of the rights. words: those of
    partners that somebody agreed to, in small letters; `ar_word` gives no other.
    """
    prefix = programme.replace("'", "''")
    con.execute(f"create temp macro ar_id(kind, hash) as '{prefix}:' || kind || ':' || hash")
    con.execute("create temp macro ar_plain(t) as case when contains(t, '.') then rtrim(rtrim(t, '0'), '.') else t end")
    con.execute("create temp macro ar_num(x) as ar_plain(cast(x as varchar))")
    agreed = ", ".join("'" + w.replace("'", "''") + "'" for w in sorted(words))
    con.execute(f"create temp macro ar_word(x) as case when lower(x) in ({agreed}) then x end")
    hashes(con)
    types = [f'"{f.name}" ' + ("decimal(18, 6)" if f.name.startswith("depth") else "varchar") for f in fields(Place)]
    con.execute(f"create temp table ar_place ({', '.join(types)})")
    fill(con, "ar_place", [astuple(p) for p in places])
    con.execute("create temp table ar_scope (protocol varchar, says varchar)")
    fill(con, "ar_scope", scopes)
    con.execute("create temp table ar_rights (partner varchar, licence varchar, holder varchar)")
    fill(con, "ar_rights", rights)


def hashes(con: Asking) -> None:
    """Macros that hash what a thing is named by, as identities are hashed: `ar_visit`, `ar_frame` and others."""
    con.execute("create temp macro ar_cell(x) as replace(coalesce(x, ''), '|', '/')")
    for name, (kind, columns, key) in _HASHES.items():
        hashed = identity_sql(kind, False, "partner", f"rtrim({key}, ' |')")
        con.execute(f"create temp macro {name}(partner, {columns}) as {hashed}")


def fill(con: Asking, table: str, rows: Sequence[tuple[object, ...]]) -> None:
    """Put rows into a table of the session, a column at a time."""
    if rows:
        marks = ", ".join(["unnest(?)"] * len(rows[0]))
        con.execute(f"insert into {table} select {marks}", [list(column) for column in zip(*rows, strict=True)])


def open_views(con: Asking, agreed: Sequence[tuple[str, dt.date]]) -> None:
    """Make the views of archives in a session. agreed: partners, and the happened day up to which each may be published."""
    fill(con, "setting_publish", agreed)
    for view in read_views(all_kinds(), ALL):
        if view.file >= ARCHIVES:
            make_view(con, view)


def make_events(con: Asking) -> None:
    """Make `ar_event` (all but the programme's own), `ar_visits`, `ar_frames`, `ar_logger_days`; `prepare` comes before."""
    con.execute(
        "create temp table ar_visits as select v.*, ar_visit(v.partner, v.visit_key, v.site_key) as hash "
        "from archive_visit v join ar_place p on p.kind = 'site' and p.key = v.site_key"
    )
    con.execute(
        "create temp table ar_frames as select f.*, ar_frame(f.partner, f.visit_key, f.site_key, f.plot_key, f.frame_key) as hash, "
        "ar_plot(f.partner, f.visit_key, f.site_key, f.plot_key) as plot_hash "
        "from archive_frame f join ar_place p on p.kind = 'site' and p.key = f.site_key"
    )
    con.execute(
        "create temp table ar_logger_days as select l.*, ar_logger(l.partner, l.logger_key, l.site_key) as hash "
        "from archive_logger_day l join ar_place p on p.kind = 'site' and p.key = l.site_key"
    )
    con.execute(f"create temp table ar_event ({_EVENT})")
    for layer in (_LEAVES, _PLOTS, _VISITS, _SITES):
        con.execute(f"insert into ar_event {layer}")


def make_programme(con: Asking, latitude: str, longitude: str, uncertainty: str, country: str) -> None:
    """Add the programme's own event, which contains all others; the place is a circle around every published one."""
    con.execute(
        "insert into ar_place (kind, key, identity, latitude, longitude, uncertainty_m, country) "
        "values ('programme', '', '0', ?, ?, ?, ?)",
        [latitude, longitude, uncertainty, country],
    )
    con.execute(f"insert into ar_event {_PROGRAMME}")


def written_events() -> str:
    """The query that gives the event table of the archive."""
    return _WRITTEN
