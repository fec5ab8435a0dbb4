"""Joins the ledger's views and figures to an archive: what may be published, as whom, and what stays out and why."""

import datetime as dt
import re
from collections import Counter
from collections.abc import Sequence
from contextlib import ExitStack
from dataclasses import asdict, dataclass, field
from io import BytesIO
from pathlib import Path
from typing import Any

import pyarrow as pa

from pipeline import archive_events, archive_figures, archive_rows, archive_words, disk
from pipeline.archive import eml, geo, pack, package, versions
from pipeline.archive.codes import LICENCE_URLS
from pipeline.archive.columns import CORE, TABLES, Table
from pipeline.archive.places import Place, around
from pipeline.archive.planted import origin_told, rule_for
from pipeline.archive.taxa import is_of, taxa
from pipeline.archive_away import KNOWN
from pipeline.archive_files import changes, kept, put, refuse_at_the_gate, room_in
from pipeline.archive_known import FIGURES, NOTE, ZIP, note_version, rows_said, version_before
from pipeline.archive_places import hidden_species, places_of
from pipeline.errors import BadUsage, KeptBack, NothingAgreed
from pipeline.indicators.figure import Figure
from pipeline.intake.names import names_of
from pipeline.outputs.tables import figure_from, read_figures
from pipeline.people import who_may_be_named
from pipeline.plural import n_of
from pipeline.programme import Rules, open_programme
from pipeline.rules.publishing import PublishingRules
from pipeline.session import session
from warehouse.asking import Asking

CHANGES = "changes.csv"
ROOM = "1GB"  # what DuckDB takes while it makes the tables; more is spilled
SHOWN = 10  # rows that a block lists
KEY = re.compile(r"[A-Za-z0-9._-]+")


@dataclass(frozen=True)
class Archived:
    """What an export did. rows: of each table. left_out and cautions: a sentence each.

    inside: what is left out with the names of partners and the words they wrote; it is written into no file.
    """

    folder: str
    version: int
    digest: str
    rows: dict[str, int]
    added: int
    changed: int
    deleted: int
    left_out: list[str] = field(default_factory=list)
    cautions: list[str] = field(default_factory=list)
    inside: list[str] = field(default_factory=list)


@dataclass
class _Job:
    """What one export knows while it is made."""

    con: Asking
    rules: Rules
    root: Path
    today: dt.date
    as_of: dt.date
    left_out: list[str] = field(default_factory=list)
    places: list[Place] = field(default_factory=list)
    hidden: set[str] = field(default_factory=set)
    unknown: set[str] = field(default_factory=set)  # names of what was seen that are on no list, and not agreed to
    open_sites: set[str] = field(default_factory=set)  # those whose place may be seen as it is held, told of or not

    @property
    def told(self) -> PublishingRules:
        return self.rules.publishing

    def ask(self, query: str) -> list[tuple[Any, ...]]:
        return self.con.sql(query).fetchall()


def make_archive(root: Path, into: Path, today: dt.date) -> Archived:
    """Write the archive into a folder, with what lies beside it; gives what was written and what stays out.

    Tells of what was measured last. today: whether an embargo is over. BadUsage when nothing may be published, KeptBack when
    a row would publish a planting as wild or the gate stops the archive: then nothing is written.
    """
    places = open_programme(root).places
    figures = [figure_from(r) for r in read_figures(places.out)]
    note = places.warehouse / NOTE if into == places.out / "archive" else None
    with room_in(places.warehouse) as room:
        with session(root) as (con, rules):
            con.execute(f"set memory_limit = '{ROOM}'")
            [(as_of,)] = con.sql("select happened from as_of").fetchall()
            job = _Job(con, rules, root, today, as_of)
            files, done, last = _written(job, _make(job, figures), into, note, room)
        refuse_at_the_gate(files[ZIP], today)
        said = {k: v for k, v in asdict(done).items() if k in ("version", "digest", "rows", "left_out", "cautions")}
        put(into, files, {**said, "last_day": last.isoformat()})
    if note:
        note_version(note, done.version)
    return done


def _make(job: _Job, figures: Sequence[Figure]) -> pa.Table:
    """Leave the tables that an archive's are asked of in the session; gives that of its figures."""
    con, rules, today = job.con, job.rules, job.today
    archive_events.open_views(con, job.told.open_partners(today))
    job.hidden = hidden_species(job.told, today)
    job.places = places_of(con, job.told, today)
    job.open_sites = {p.key for p in job.places if (p.kind, p.level) == ("site", "none")}
    scopes = [(p.key, archive_words.protocol_says(p, job.hidden)) for p in rules.protocols]
    archive_events.prepare(con, rules.key, job.places, scopes, _rights(job), job.told.agreed_words)
    archive_events.make_events(con)
    if not job.ask("select count(*) from ar_event")[0][0]:
        raise NothingAgreed(
            "Nothing may be published: no event that stands was told by a partner that agreed (under [[publishing.partner]] "
            "in programme.toml) at a place that may be seen."
        )
    _make_programme(job)
    _make_rows(job)
    told = _figures(job, figures)
    archive_rows.make_facts(con, archive_figures.facts(told, rules.key), archive_figures.measures())
    job.left_out += archive_words.left_out(con, job.told, today, job.hidden, job.unknown)
    return told


def refuse_unready(rules: Rules) -> None:
    """BadUsage where the programme does not say under which licence it publishes what, who it is, or by what key."""
    told = rules.publishing
    if not KEY.fullmatch(rules.key):
        raise BadUsage(
            f"programme.toml, [programme]: `key` is {rules.key!r}; identifiers are made from it, so letters, digits, hyphens, "
            "full stops and underscores are wanted."
        )
    wanted = {
        "licence": told.licence,
        "title": told.title,
        "abstract": told.abstract,
        "organisation": told.organisation,
    }
    missing = [f"`{name}`" for name, value in wanted.items() if not value]
    if missing:
        raise BadUsage(
            f"programme.toml, [publishing]: {', '.join(missing)} {'is' if len(missing) == 1 else 'are'} missing. Nothing is "
            "published of which nobody said under which licence, by whom and what it is."
        )


def _make_programme(job: _Job) -> None:
    used = set(job.ask("select distinct place_kind, place_key from ar_event"))
    job.places = [p for p in job.places if (p.kind, p.key) in used]
    countries = {p.country for p in job.places if p.country}
    archive_events.make_programme(job.con, *around(job.places), countries.pop() if len(countries) == 1 else "")


def _rights(job: _Job) -> list[tuple[str, str, str]]:
    own = job.told.rights_holder or job.told.organisation
    told = {"programme": (LICENCE_URLS[job.told.licence], own)}
    told |= {a.partner: (LICENCE_URLS[a.licence], a.rights_holder or a.partner) for a in job.told.partners}
    return [(partner, *both) for partner, both in told.items()]


def _make_rows(job: _Job) -> None:
    con = job.con
    targets = [(p.key, t.species) for p in job.rules.protocols for t in p.targets if t.species not in job.hidden]
    scopes = [archive_words.scope_of(p, job.hidden) for p in job.rules.protocols]
    archive_rows.make_scopes(con, sorted(set(targets)), [s for s in scopes if s[2]])
    accepted = names_of(job.rules).accepted
    searched = {t.species for p in job.rules.protocols for t in p.targets}
    seen = {
        s for (s,) in job.ask("select species from archive_seen union select species from collection_archive_published")
    }
    job.unknown = {
        s for s in seen - searched - job.hidden if not is_of(s, accepted) and s.casefold() not in job.told.agreed_words
    }
    how = job.ask(
        "select distinct species, site_key, origin, coalesce(method, '') from archive_seen "
        "union select distinct species, '', 'natural', '' from collection_archive_published"
    )
    origins = [(*h, *origin_told(rule_for(job.told.origins, h[0], h[1]), h[2], h[3])) for h in sorted(how)]
    people = [(p.code, p.name, p.orcid) for p in who_may_be_named(job.root)]
    archive_rows.make_occurrences(
        con,
        taxa((seen | searched) - job.hidden - job.unknown, accepted),
        people,
        origins,
        bool(job.hidden | job.unknown),
    )
    wild = archive_rows.told_as_wild(con)
    if wild:
        listed = "".join(
            f"\n  {partner}/{name}, row {row}: {species}" for _, species, partner, name, row in wild[:SHOWN]
        )
        raise KeptBack(
            f"Nothing was written: {n_of(len(wild), 'row')} of plots in which something was planted, or is to be, would be published as wild. "
            "Say under [[publishing.origin]] in programme.toml what a planting of the species is, or register the plot as what "
            f"it is now:{listed}"
        )


def _figures(job: _Job, figures: Sequence[Figure]) -> pa.Table:
    shown = {p.key: f"{job.rules.key}:site:{p.identity}" for p in job.places if p.kind == "site"}
    worked_at = "select site_key from survey_stands union select site_key from deployment_stands union select site_key from visit_stands"
    blocked = {key for (key,) in job.ask("select site_key from archive_site_withheld")}
    blocked |= {key for (key,) in job.ask(worked_at)} - shown.keys()
    unseen = {key for (key,) in job.ask("select site_key from site_now")} - shown.keys()
    blurred = bool(unseen - job.open_sites) or any(p.level != "none" for p in job.places)
    seen = archive_figures.Seen(
        shown, blocked, unseen, blurred, job.hidden | job.unknown, {p.key for p in job.rules.protocols},
        {partner for partner, _ in job.told.open_partners(job.today)}, job.told.agreed_words,
    )  # fmt: skip
    of_these = [f for f in figures if f.indicator in archive_figures.TOLD]
    may = [f for f in of_these if archive_figures.may_be_told(f, seen)]
    if len(may) < len(of_these):
        n = len(of_these) - len(may)
        job.left_out.append(
            f"{n_of(n, 'figure')} that rest, or may rest, on something that is not published, or are told apart by what may not be named."
        )
    return archive_figures.rows(may, job.as_of, seen)


# --- the files ----------------------------------------------------------------------------------------------


def _clean(con: Asking, table: Table, path: Path) -> int:
    """Write a table of the archive, in order of its key, as texts without control characters and line breaks; nothing where nothing is said.

    Gives how many rows it has.
    """
    query = archive_events.written_events() if table is CORE else archive_rows.QUERIES[table.name]
    cells = ", ".join(
        f"nullif(trim(regexp_replace(cast(\"{n}\" as varchar), '[[:cntrl:][:space:]]+', ' ', 'g')), '') as \"{n}\"" for n in table.names
    )  # fmt: skip
    rows = con.relation(f'select {cells} from ({query}) order by "{table.key}"').to_arrow_reader(versions.BATCH)
    with path.open("wb") as text:
        return pack.write_csv(rows, rows.schema, text)


def _written(
    job: _Job, figures: pa.Table, into: Path, note: Path | None, room: Path
) -> tuple[dict[str, Path], Archived, dt.date]:
    """Make every file in the room. Gives them by the names they are to have, what was done, and the last day told of."""
    texts = {t.name: room / t.file for t in TABLES}
    counts = {t.name: _clean(job.con, t, texts[t.name]) for t in TABLES}
    more = {FIGURES: figures, "indicator_meanings": archive_figures.meanings()}
    for name, table in more.items():
        texts[name] = room / f"{name}.csv"
        with texts[name].open("wb") as text:
            pack.write_csv(table.to_batches(), table.schema, text)
    metadata = archive_words.metadata(job.con, job.rules, job.root, job.places, job.hidden, job.left_out)
    with ExitStack() as opened:
        read = {name: opened.enter_context(text.open("rb")) for name, text in texts.items()}
        rows = opened.enter_context((room / "rows.parquet").open("w+b"))
        standing, whole = rows_said(read, eml.eml_xml(metadata, 0, ""), rows)
        before, beware = version_before(into, note, room, opened)
        now = versions.next_version(before, whole, rows)
        files = {f"tables/{name}.csv": text for name, text in texts.items()} | _maps(job, figures, room)
        about = {n: (text.stat().st_size, disk.sha256_of(text)) for n, text in texts.items()}
        package_told = package.datapackage(
            job.rules.key, job.told.title, job.told.licence, now.number, about, {n: t.schema for n, t in more.items()}
        )
        files["tables/datapackage.json"] = kept(room / "datapackage.json", package_told)
        told = Counter[str]()
        if now is not before or not (into / CHANGES).is_file():
            files[CHANGES], told = changes(before, now, room)
        files |= {KNOWN: room / KNOWN, ZIP: room / ZIP}
        with files[KNOWN].open("wb") as known:
            versions.write_version(now, known)
        words = {pack.META: pack.meta_xml(), pack.EML: eml.eml_xml(metadata, now.number, standing)}
        with files[ZIP].open("wb") as packed:
            pack.write_zip(
                {t.file: read[t.name] for t in TABLES} | {n: BytesIO(data) for n, data in words.items()}, packed
            )
    done = Archived(str(into), now.number, standing, {**counts, FIGURES: len(figures)}, told["added"], told["changed"], told["deleted"],
                    job.left_out, [*archive_words.cautions(job.con), *beware],
                    archive_words.inside(job.con, job.told, job.today, job.unknown))  # fmt: skip
    return files, done, metadata.last


def _maps(job: _Job, figures: pa.Table, room: Path) -> dict[str, Path]:
    """Sites and figures as GeoJSON and GeoParquet, at their published places."""
    sites = [p for p in job.places if p.kind == "site"]
    at = {f"{job.rules.key}:site:{p.identity}": (p.longitude, p.latitude) for p in sites}
    said = [
        {"locationID": f"{job.rules.key}:site:{p.identity}", "locality": p.locality or None, "countryCode": p.country,
         "coordinateUncertaintyInMeters": p.uncertainty_m or None, "coordinatePrecision": p.precision or None,
         "dataGeneralizations": p.generalised or None, "informationWithheld": p.withheld or None}
        for p in sites
    ]  # fmt: skip
    text = pa.schema([(n, pa.string()) for n in (said[0] if said else {})])
    placed = figures.filter(pa.compute.is_in(figures["locationID"], pa.array(at, pa.string())))
    made = {}
    for name, rows in (("sites", pa.Table.from_pylist(said, text)), ("results", placed)):
        points = [at[place] for place in (rows["locationID"].to_pylist() if len(rows) else ())]
        made[f"maps/{name}.geojson"], made[f"maps/{name}.parquet"] = (
            room / f"{name}.{ending}" for ending in ("geojson", "parquet")
        )
        with made[f"maps/{name}.geojson"].open("w", encoding="utf-8", newline="\n") as text_file:
            geo.write_geojson(rows, points, text_file)
        with made[f"maps/{name}.parquet"].open("wb") as file:
            geo.write_geoparquet(rows, points, file)
    return made
