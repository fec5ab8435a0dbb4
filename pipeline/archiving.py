"""Joins the ledger's views and figures to an archive: what may be published, as whom, and what stays out and why."""

import datetime as dt
import json
import math
from collections.abc import Sequence
from dataclasses import asdict, dataclass, field
from decimal import Decimal
from pathlib import Path
from typing import Any

import duckdb
import pyarrow as pa

from pipeline import archive_events, archive_figures, archive_rows, disk
from pipeline.archive import eml, geo, pack, package, versions
from pipeline.archive.codes import LICENCE_URLS
from pipeline.archive.columns import CORE, TABLES, Table
from pipeline.archive.eml import Metadata
from pipeline.archive.places import Held, Place, around, box, coarser, published
from pipeline.archive.planted import origin_told, rule_for
from pipeline.archive.taxa import taxa
from pipeline.errors import BadUsage
from pipeline.indicators.figure import Figure
from pipeline.intake.names import names_of
from pipeline.intake.radius import precision_m
from pipeline.people import who_may_be_named
from pipeline.plural import n_of
from pipeline.programme import Protocol, Rules
from pipeline.rules.publishing import PublishingRules

ABOUT, KNOWN, CHANGES, ZIP = "about.json", "known.parquet", "changes.csv", "archive.zip"
SHOWN = 10  # rows that a block lists
BED_LEVEL = "0.1"  # of donor beds of which the register says nothing: they are worth hiding
TOLD_KINDS = ("survey", "visit", "deployment", "check", "loss", "treatment", "collection", "reading")


@dataclass(frozen=True)
class Archived:
    """What an export did. rows: of each table. left_out and cautions: a sentence each."""

    folder: str
    version: int
    digest: str
    rows: dict[str, int]
    added: int
    changed: int
    deleted: int
    left_out: list[str] = field(default_factory=list)
    cautions: list[str] = field(default_factory=list)


@dataclass
class _Job:
    """What one export knows while it is made."""

    con: duckdb.DuckDBPyConnection
    rules: Rules
    today: dt.date
    left_out: list[str] = field(default_factory=list)
    names: dict[str, int] = field(default_factory=dict)
    places: list[Place] = field(default_factory=list)
    hidden: set[str] = field(default_factory=set)

    @property
    def told(self) -> PublishingRules:
        return self.rules.publishing

    def ask(self, query: str) -> list[tuple[Any, ...]]:
        return self.con.sql(query).fetchall()


def make_archive(
    con: duckdb.DuckDBPyConnection, rules: Rules, root: Path, figures: Sequence[Figure], as_of: dt.date, today: dt.date, into: Path
) -> Archived:  # fmt: skip
    """Write the archive into a folder, with what lies beside it; gives what was written and what stays out.

    con: a session with the views of archives. figures: all of them, as of that day. today: whether an embargo is over.
    BadUsage when nothing may be published, or when a row would publish a planting as wild.
    """
    job = _Job(con, rules, today, names=names_of(rules).accepted)
    _refuse_without_licence(job.told)
    archive_events.fill(con, "setting_publish", job.told.open_partners(today))
    job.hidden = {s.species for s in _in_force(job) if s.species and s.level == "withheld"}
    job.places = _places(job)
    archive_events.prepare(con, rules.key, job.places, _scopes(job), _rights(job))
    archive_events.make_events(con)
    if not job.ask("select count(*) from ar_event")[0][0]:
        raise BadUsage(
            "Nothing may be published: no event that stands was told by a partner that agreed (under [[publishing.partner]] "
            "in programme.toml) at a place that may be seen."
        )
    _make_programme(job)
    _make_rows(job, root)
    told = _figures(job, figures, as_of)
    archive_rows.make_facts(con, archive_figures.facts(told, rules.key), archive_figures.measures())
    _left_out(job)
    tables = {t.name: _clean(con, t) for t in TABLES}
    return _written(job, root, tables, told, as_of, into)


def _refuse_without_licence(told: PublishingRules) -> None:
    wanted = {"licence": told.licence, "title": told.title, "abstract": told.abstract, "organisation": told.organisation}
    missing = [f"`{name}`" for name, value in wanted.items() if not value]
    if missing:
        raise BadUsage(
            f"programme.toml, [publishing]: {', '.join(missing)} {'is' if len(missing) == 1 else 'are'} missing. Nothing is "
            "published of which nobody said under which licence, by whom and what it is."
        )


# --- places -------------------------------------------------------------------------------------------------


def _in_force(job: _Job) -> list[Any]:
    return [s for s in job.told.sensitive if s.until is None or job.today <= s.until]


def _places(job: _Job) -> list[Place]:
    seen: dict[str, set[str]] = {}
    for site, species in job.ask("select distinct site_key, species from archive_seen"):
        seen.setdefault(site, set()).add(species)
    found: list[Place] = []
    for held, species, datum in [*_held_sites(job, seen), *_held_beds(job)]:
        levels = [s.level for s in _in_force(job) if held.key in (s.site if held.kind == "site" else s.bed, )]
        levels += [s.level for s in _in_force(job) if s.species in species and (s.level != "withheld" or held.kind == "bed")]
        if held.kind == "bed" and species & job.hidden:
            levels.append("withheld")
        place = published(_with(held, coarser(held.level, *levels)), precision_m) if datum == "EPSG:4326" else None
        if place is not None:
            found.append(place)
    return found


def _with(held: Held, level: str) -> Held:
    return Held(**{**asdict(held), "level": level})


def _held_sites(job: _Job, seen: dict[str, set[str]]) -> list[tuple[Held, set[str], str]]:
    return [
        (Held("site", key, identity, sensitive or "none", latitude, longitude, uncertainty, radius, name, country, water or "",
              habitat or "", outline or "", least, most, "" if datum else "The datum was not told; EPSG:4326 is assumed."),
         seen.get(key, set()), datum or "EPSG:4326")
        for key, identity, sensitive, latitude, longitude, uncertainty, radius, name, country, water, habitat, outline, least,
        most, datum in job.ask(
            "select site_key, identity, sensitive, latitude, longitude, uncertainty_m, radius_m, name, country, water_body, "
            "habitat, outline, depth_min_m, depth_max_m, datum from site_archive_published order by site_key")
    ]  # fmt: skip


def _held_beds(job: _Job) -> list[tuple[Held, set[str], str]]:
    return [
        (Held("bed", key, identity, sensitive or BED_LEVEL, latitude, longitude, uncertainty,
              Decimal(math.ceil(math.sqrt(area / Decimal(str(math.pi))))) if area else Decimal(0)), {species}, datum or "EPSG:4326")
        for key, identity, sensitive, latitude, longitude, uncertainty, area, species, datum in job.ask(
            "select bed_key, identity, sensitive, latitude, longitude, uncertainty_m, area_m2, species, datum "
            "from bed_archive_published order by bed_key")
    ]  # fmt: skip


def _make_programme(job: _Job) -> None:
    used = set(job.ask("select distinct place_kind, place_key from ar_event"))
    job.places = [p for p in job.places if (p.kind, p.key) in used]
    countries = {p.country for p in job.places if p.country}
    archive_events.make_programme(job.con, *around(job.places), countries.pop() if len(countries) == 1 else "")


# --- what is said of them -----------------------------------------------------------------------------------


def _says(protocol: Protocol, hidden: set[str]) -> str:
    """A protocol in a sentence."""
    of: dict[str, list[str]] = {}
    for t in protocol.targets:
        if t.species not in hidden:
            of.setdefault(t.species, []).append(f"{t.stage} from {t.smallest_cm} cm")
    searched = "; ".join(f"{species} ({', '.join(stages)})" for species, stages in of.items())
    return f"{protocol.key} of {protocol.dated}: {protocol.frame_type}, placement {protocol.placement}, searched for {searched}"


def _scopes(job: _Job) -> list[tuple[str, str]]:
    return [(p.key, _says(p, job.hidden)) for p in job.rules.protocols]


def _rights(job: _Job) -> list[tuple[str, str, str]]:
    own = job.told.rights_holder or job.told.organisation
    told = {"programme": (LICENCE_URLS[job.told.licence], own)}
    told |= {a.partner: (LICENCE_URLS[a.licence], a.rights_holder or a.partner) for a in job.told.partners}
    return [(partner, *both) for partner, both in told.items()]


def _make_rows(job: _Job, root: Path) -> None:
    con = job.con
    targets = [(p.key, t.species) for p in job.rules.protocols for t in p.targets if t.species not in job.hidden]
    scopes = []
    for p in job.rules.protocols:
        species = list(dict.fromkeys(t.species for t in p.targets if t.species not in job.hidden))
        stages = list(dict.fromkeys(t.stage for t in p.targets if t.species not in job.hidden))
        scopes.append((p.key, p.dated, " | ".join(species), " | ".join(stages)))
    archive_rows.make_scopes(con, sorted(set(targets)), [s for s in scopes if s[2]])
    named = job.ask(
        "select species from archive_seen union select species from collection_archive_published "
        "union select species from setting_protocol"
    )
    how = job.ask(
        "select distinct species, site_key, origin, coalesce(method, '') from archive_seen "
        "union select distinct species, '', 'natural', '' from collection_archive_published"
    )
    origins = [(*h, *origin_told(rule_for(job.told.origins, h[0], h[1]), h[2], h[3])) for h in sorted(how)]
    people = [(p.code, p.name, p.orcid) for p in who_may_be_named(root)]
    archive_rows.make_occurrences(con, taxa({s for (s,) in named} - job.hidden, job.names), people, origins)
    wild = archive_rows.told_as_wild(con)
    if wild:
        listed = "".join(f"\n  {partner}/{name}, row {row}: {species}" for _, species, partner, name, row in wild[:SHOWN])
        raise BadUsage(
            f"Nothing was written: {n_of(len(wild), 'row')} of plots in which something was planted would be published as wild. "
            "Say under [[publishing.origin]] in programme.toml what a planting of the species is, or register the plot as what "
            f"it is now:{listed}"
        )


def _figures(job: _Job, figures: Sequence[Figure], as_of: dt.date) -> pa.Table:
    shown = {p.key: f"{job.rules.key}:site:{p.identity}" for p in job.places if p.kind == "site"}
    every = {key for (key,) in job.ask("select site_key from site_stands")}
    blocked = {key for (key,) in job.ask("select site_key from archive_site_withheld")} | (every - shown.keys())
    seen = archive_figures.Seen(shown, blocked, any(p.level != "none" for p in job.places), job.hidden)
    of_these = [f for f in figures if f.indicator in archive_figures.TOLD]
    may = [f for f in of_these if archive_figures.may_be_told(f, seen)]
    if len(may) < len(of_these):
        n = len(of_these) - len(may)
        job.left_out.append(f"{n_of(n, 'figure')} that rest, or may rest, on something that is not published.")
    return archive_figures.rows(may, as_of, seen)


def _left_out(job: _Job) -> None:
    """What stands and is not in the archive, by reason; partners are not named, their owners are told by the command."""
    strict = [a.partner for a in job.told.partners if job.told.too_strict(a)]
    open_now = dict(job.told.open_partners(job.today))
    closed = [a.partner for a in job.told.partners if a.partner not in open_now and a.partner not in strict]
    counts: dict[str, int] = {}
    for kind in TOLD_KINDS:
        for partner, n in job.ask(f"select partner, count(*) from archive_left_out_{kind} group by partner"):
            why = (
                "of partners that allow less than the archive's licence" if partner in strict
                else "under an embargo, or agreed to for later" if partner in closed or partner in open_now
                else "of partners that did not agree to publish"
            )  # fmt: skip
            counts[why] = counts.get(why, 0) + n
    job.left_out += [f"{n_of(n, 'event')} {why}." for why, n in sorted(counts.items())]
    placed = "select key from ar_place where kind = "
    unseen = [
        f"select count(*) from {kind}_archive_published where {'bed' if kind == 'collection' else 'site'}_key not in "
        f"({placed}'{'bed' if kind == 'collection' else 'site'}')"
        for kind in ("survey", "visit", "deployment", "treatment", "collection")
    ]
    n = sum(job.ask(query)[0][0] for query in unseen)
    if n:
        job.left_out.append(f"{n_of(n, 'event')} at places that are withheld, without a position, or of another datum than EPSG:4326.")
    if job.hidden:
        job.left_out.append(f"Everything of {n_of(len(job.hidden), 'species', 'species')} that may not be told of.")
    job.left_out.append(
        "Costs, permits, the handling of tissue, remarks and other free words, photographs, and people who did not consent "
        "to be named are never part of an archive; nor are events that wait, are held or in dispute."
    )


# --- the files ----------------------------------------------------------------------------------------------


def _clean(con: duckdb.DuckDBPyConnection, table: Table) -> pa.Table:
    """A table of the archive as texts without control characters and line breaks; null where nothing is said."""
    query = archive_events.written_events() if table is CORE else archive_rows.QUERIES[table.name]
    cells = ", ".join(
        f"nullif(trim(regexp_replace(cast(\"{n}\" as varchar), '[[:cntrl:][:space:]]+', ' ', 'g')), '') as \"{n}\"" for n in table.names
    )  # fmt: skip
    made: pa.Table = con.sql(f"select {cells} from ({query})").to_arrow_table()
    return made.sort_by(table.key)


def _metadata(job: _Job, root: Path, as_of: dt.date) -> Metadata:
    told, rules = job.told, job.rules
    [(first, last)] = job.ask("select min(first_on), max(last_on) from ar_event")
    ranked = job.ask(
        'select distinct t."taxonRank", t."scientificName" from ar_taxon t where t.species in '
        "(select species from ar_occurrence) order by 2"
    )
    roles = {p.code: p.role for p in told.people}
    people = [eml.Person(p.name, p.orcid, roles[p.code]) for p in who_may_be_named(root) if p.code in roles]
    methods = [m for (m,) in job.ask("select distinct protocol from ar_event where type in ('deployment', 'site preparation') order by 1")]
    named = {p for (p,) in job.ask("select distinct protocol from ar_frames")}
    steps = [*(_says(p, job.hidden) for p in rules.protocols if p.key in named), *methods]
    if job.ask("select count(*) from ar_event where type = 'collection'")[0][0]:
        steps.append("Fertile tissue was cut from donor beds, whose plants are told of as material of the bed.")
    steps.append("Indicators: each with its estimator and its published source in the table of indicators' meanings.")
    return Metadata(
        identifier=rules.key, title=told.title, abstract=told.abstract, organisation=told.organisation, email=told.email,
        url=told.url, language=told.language, licence=told.licence, rights=told.rights_holder and f"{told.rights_holder}.",
        pub_date=told.published or as_of, area=told.area or "The sites of the programme, as published.", box=box(job.places),
        first=first, last=last, taxa=ranked, steps=steps,
        sampling="Divers search frames of stated kind, placement and area for the species and stages of a protocol that was "
        "written down before; a zero is told only of a frame that was counted under one.",
        quality="Every row was checked for its shape and against all others; what is held, waits or is in dispute is left out. "
        "Every record leads to the file and row that said it.",
        keywords=told.keywords, purpose=told.purpose, citation=told.citation, funding=told.funding,
        maintenance=told.maintenance, update_frequency=told.update_frequency, people=people, left_out=job.left_out,
    )  # fmt: skip


def _written(job: _Job, root: Path, tables: dict[str, pa.Table], figures: pa.Table, as_of: dt.date, into: Path) -> Archived:
    more = {"indicators": figures, "indicator_meanings": archive_figures.meanings()}
    texts = {name: pack.as_text(t) for name, t in {**tables, **more}.items()}
    keys = {t.name: t.names.index(t.key) for t in TABLES} | {"indicators": 0}
    rows = versions.rows_of({name: (texts[name], at) for name, at in keys.items()})
    metadata, standing = _metadata(job, root, as_of), versions.digest_of(rows)
    words = eml.eml_xml(metadata, 0, "")
    rows["eml", pack.EML] = versions.digest_of({("eml", ""): words.decode()})
    kept = into / KNOWN
    before = versions.from_parquet(kept.read_bytes()) if kept.is_file() else versions.NOTHING
    now = versions.next_version(before, rows)
    told = versions.difference(before.known, now.known)
    archive = {t.file: texts[t.name] for t in TABLES}
    archive |= {pack.META: pack.meta_xml(), pack.EML: eml.eml_xml(metadata, now.number, standing)}
    files = {ZIP: pack.zipped(archive), **{f"tables/{name}.csv": text for name, text in texts.items()}}
    files["tables/datapackage.json"] = package.datapackage(
        job.rules.key, job.told.title, job.told.licence, now.number, texts, {n: t.schema for n, t in more.items()}
    )
    files |= _maps(job, figures)
    if now is not before or not (into / CHANGES).is_file():
        files[CHANGES] = versions.changes_csv(now, told)
    files[KNOWN] = versions.as_parquet(now)
    counts = {name: len(t) for name, t in {**tables, "indicators": figures}.items()}
    done = Archived(str(into), now.number, standing, counts, len(told.added), len(told.changed), len(told.deleted),
                    job.left_out, _cautions(job, tables))  # fmt: skip
    _put(into, files, done, as_of)
    return done


def _maps(job: _Job, figures: pa.Table) -> dict[str, bytes]:
    """Sites and figures as GeoJSON and GeoParquet, at their published places."""
    sites = [p for p in job.places if p.kind == "site"]
    at = {f"{job.rules.key}:site:{p.identity}": (p.longitude, p.latitude) for p in sites}
    said = [
        {"locationID": f"{job.rules.key}:site:{p.identity}", "locality": p.locality or None, "countryCode": p.country,
         "coordinateUncertaintyInMeters": p.uncertainty_m or None, "coordinatePrecision": p.precision or None,
         "dataGeneralizations": p.generalised or None, "informationWithheld": p.withheld or None}
        for p in sites
    ]  # fmt: skip
    placed = [r for r in figures.to_pylist() if r["locationID"] in at]
    text = pa.schema([(n, pa.string()) for n in (said[0] if said else {})])
    return {
        "maps/sites.geojson": geo.geojson(said, list(at.values())),
        "maps/sites.parquet": geo.geoparquet(pa.Table.from_pylist(said, text), list(at.values())),
        "maps/results.geojson": geo.geojson(placed, [at[r["locationID"]] for r in placed]),
        "maps/results.parquet": geo.geoparquet(pa.Table.from_pylist(placed, figures.schema), [at[r["locationID"]] for r in placed]),
    }


def _cautions(job: _Job, tables: dict[str, pa.Table]) -> list[str]:
    """What a repository may ask about."""
    bare = sorted({n for (n,) in job.ask('select t.species from ar_taxon t join ar_occurrence o on o.species = t.species where t."scientificNameID" = \'\'')})  # fmt: skip
    said = [f"{name}: no verified WoRMS identifier; repositories drop names that they cannot match." for name in bare]
    codes = {m for (m,) in job.ask("select distinct m.type from ar_fact f join ar_measure m on m.name = f.measure where m.type_id = ''")}
    if codes:
        said.append(f"{n_of(len(codes), 'type')} of measurement without a verified code, left blank: {', '.join(sorted(codes)[:SHOWN])} ...")
    mute = tables["occurrence"].filter(pa.compute.is_null(tables["occurrence"]["establishmentMeans"]))
    if len(mute):
        said.append(f"{n_of(len(mute), 'occurrence')} of which nothing is said on origin, absences and species without an [[publishing.origin]] rule.")  # fmt: skip
    return said


def _put(into: Path, files: dict[str, bytes], done: Archived, as_of: dt.date) -> None:
    """about.json is taken away first and put back last: where it stands, the files beside it are those it speaks of."""
    disk.make_folder(into)
    disk.remove(into / ABOUT)
    for name, data in files.items():
        disk.make_folder((into / name).parent)
        disk.replace(into / name, data)
    told = {k: v for k, v in asdict(done).items() if k in ("version", "digest", "rows", "left_out", "cautions")}
    disk.replace(into / ABOUT, (json.dumps({**told, "as_of": as_of.isoformat()}, indent=1, sort_keys=True) + "\n").encode())
