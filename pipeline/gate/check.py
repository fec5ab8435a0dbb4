"""The gate itself: from the path of an archive to a verdict."""

import datetime as dt
from contextlib import suppress
from pathlib import Path
from tempfile import TemporaryDirectory

from pipeline.gate import ask, eml, xsd
from pipeline.gate.descriptor import META, NO_META, Described, described
from pipeline.gate.files import NOT_NAMED, Ready, make_ready
from pipeline.gate.markup import MOST_XML, NotMarkup, parse
from pipeline.gate.opened import CannotRead, Opened, opened
from pipeline.gate.rule import GBIF, OBIS, REPOSITORIES, Finding, Hits, Verdict
from pipeline.gate.tables import load, make_views, open_database

ALWAYS_UNCHECKED = (  # by OBIS
    "Whether WoRMS knows the names, and as marine species: that needs WoRMS (OBIS drops rows without a match, NO_MATCH, and "
    "rows of no marine species, NOT_MARINE).",
    "Whether depths are deeper than the sea there: that needs a grid of depths (DEPTH_EXCEEDS_BATH, kept and flagged).",
)


UNCHECKED_BY_GBIF = (
    "Whether the country is that of the place: that needs the outlines of countries' seas (country and coordinates mismatch, kept "
    "and flagged).",
)


def check(
    path: Path, today: dt.date, standards: Path | None = None, repositories: tuple[str, ...] = REPOSITORIES
) -> Verdict:
    """What OBIS and GBIF would find in the Darwin Core Archive at `path`, a zip or a folder; nothing is changed.

    today      the day after which dates lie in the future.
    standards  a folder with the standards' own schemas (see DEVELOPERS.md); None: they are not used.
    repositories  those that are asked about, of `rule.REPOSITORIES`.

    Faults of the archive are findings, never exceptions; OSError where this machine's disk fails.
    """
    hits, rows = Hits(), []
    unchecked = [
        *(ALWAYS_UNCHECKED if OBIS in repositories else ()),
        *(UNCHECKED_BY_GBIF if GBIF in repositories else ()),
    ]
    with opened(path, hits) as archive:
        said = _described(archive, standards, hits, unchecked) if archive and archive.names else None
        if archive and said:
            eml.check(archive, said.metadata, standards, hits, unchecked)
            with TemporaryDirectory(prefix="wrackline-gate-") as room:
                rows = _rows(archive, said, Path(room), today, hits)
    if not rows:
        unchecked.append("The rows, since they cannot be read as the archive stands.")
    found = [f for f in hits.findings() if f.rule.effects(repositories)]
    verdict = Verdict(str(path), repositories, tuple(found), tuple(rows), tuple(unchecked))
    return Verdict(str(path), repositories, _worst_first(verdict, found), verdict.rows, verdict.unchecked)


def _worst_first(verdict: Verdict, found: list[Finding]) -> tuple[Finding, ...]:
    return tuple(sorted(found, key=lambda f: (-verdict.worst(f), f.rule.name, f.example.file)))


def _described(archive: Opened, standards: Path | None, hits: Hits, unchecked: list[str]) -> Described | None:
    """What meta.xml says, held against the guide's schema where that is found."""
    try:
        data = archive.read(META, MOST_XML)
    except KeyError:
        inside = next((n for n in archive.names if n.endswith(f"/{META}")), "")
        hits.add(NO_META, META, f"it lies in {inside}" if inside else "")
        return None
    except CannotRead as e:
        hits.add(NO_META, META, str(e))
        return None
    with suppress(NotMarkup):  # `described` tells of it
        xsd.validate(parse(data), META, "", standards, hits, unchecked)
    return described(data, hits)


def _rows(archive: Opened, said: Described, room: Path, today: dt.date, hits: Hits) -> list[tuple[str, int]]:
    """Read and ask the rows; gives how many each core or extension has, nothing when the core cannot be read."""
    named = {META, said.metadata, *(name for t in said.tables for name in t.files)}
    for name in archive.names:
        if name not in named and (said.metadata or not name.endswith(".xml")):
            hits.add(NOT_NAMED, name, name)
    files: dict[int, list[Ready]] = {}
    for n, table in enumerate(said.tables):
        ready = [make_ready(archive, table, name, room / f"{n}-{i}.csv", hits) for i, name in enumerate(table.files)]
        files[n] = [r for r in ready if r]
        if table.is_core and not files[n]:
            return []
    rows = []
    with open_database(room) as db:
        for n, table in enumerate(said.tables):
            count = load(db, n, table, files[n], hits) if files[n] else None
            if count is not None:
                rows.append((", ".join(f.name for f in files[n]), count))
            elif table.is_core:
                return []
            else:
                files[n] = []
        behind = make_views(db, said, ask.TERMS)
        names = {n: tuple(f.name for f in ready) for n, ready in files.items()}
        views = [ask.View(view, view, names[n]) for view, n in behind.items()]
        for n, table in enumerate(said.tables):
            if files[n] and table.id_index is not None:
                source = f"(select *, _id as _name from t{n})"
                views.append(ask.View("core" if table.is_core else "extension", source, names[n]))
        ask.ask(db, views, today, hits)
    return rows
