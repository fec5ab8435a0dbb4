"""Staged drops judged together and recorded, an entry each. Joins the ledger's parts for `run.py`."""

import datetime as dt
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path

import duckdb
import pyarrow as pa

from pipeline.ledger.entry import Entry, Receipt
from pipeline.ledger.fates import with_parts
from pipeline.ledger.files import redactions
from pipeline.ledger.judge import ENTERED, HELD, judge, write_segments
from pipeline.ledger.known import Cached, load_known
from pipeline.ledger.outcome import Outcome, outcome
from pipeline.ledger.returned import NAME as RETURNED
from pipeline.ledger.returned import Returned, load_mended
from pipeline.ledger.staging import Staged
from pipeline.ledger.store import Ledger
from pipeline.ledger.waited import load_waited
from pipeline.loading import refuse_newer
from pipeline.world import is_worlds
from schemas.kinds import Kind

# What does not fit is spilled to the ledger's own disk, whatever the size of the take-in.
LITTLE_MEMORY: dict[str, str | bool | int | float | list[str]] = {
    "autoinstall_known_extensions": "false",
    "memory_limit": "384MB",
}


def record(
    ledger: Ledger, staged: Sequence[Staged], rules: str, kinds: dict[str, Kind], cached: Cached | None,
    now: Callable[[], dt.datetime],
) -> list[Entry]:  # fmt: skip
    """Judge and record every staged drop that is still news. Call only while the ledger's lock is held.

    Another run may have been quicker while these were read: what it recorded is left out and judged against.
    """
    try:
        return _record(ledger, staged, rules, kinds, cached, now)
    except duckdb.Error as e:
        if cached is None or is_worlds(e):
            raise
        # the projection that was to save us reading is damaged; the ledger itself says the same
        return _record(ledger, staged, rules, kinds, None, now)


def _record(
    ledger: Ledger, staged: Sequence[Staged], rules: str, kinds: dict[str, Kind], cached: Cached | None,
    now: Callable[[], dt.datetime],
) -> list[Entry]:  # fmt: skip
    entries = ledger.entries()
    refuse_newer(entries, kinds)
    last, erased = {(e.partner, e.drop): (e.mapping, e.rules) for e in entries}, redactions(entries)
    news = [
        s for s in staged
        if last.get((s.partner, s.drop)) != (s.used, rules) and (s.retaken or (s.partner, s.drop) not in last)
        and s.drop not in erased
    ]  # fmt: skip
    if not news:
        return []
    for e in entries:  # what the judge is about to read
        told = {s.kind for s in with_parts(e)} if cached is None or e.number > cached.number else set()
        ledger.prove(e, [s for s in e.segments if s.kind in told | {"ruling", "withdrawal", "asked"}])
    pa.default_memory_pool().release_unused()  # what reading took and needs no more, judging may need
    with ledger.workspace() as folder, judged(ledger, entries, news, kinds, cached, folder) as (con, back, of_all):
        made: list[Entry] = []
        instant = now()  # one for all: entries of one take-in are a microsecond apart, so that letters know them
        for at, drop in enumerate(news):
            here = folder / str(at)
            here.mkdir()
            parts = segments_of(con, drop, at, back[at], of_all, here, kinds)
            segments = [
                ledger.keep_segment(path, name, rows, drop.version(name)) for name, (path, rows) in parts.items()
            ]
            disputed = tuple(news[other].drop for other in of_all.against.get(at, ()))
            entry = entry_of(con, drop, back[at], parts, rules)
            whole = replace(entry, segments=tuple(segments), disputed_with=disputed)
            made.append(ledger.append(whole, instant, goes_on=bool(made)))
    return made


@contextmanager
def judged(
    ledger: Ledger, entries: Sequence[Entry], news: Sequence[Staged], kinds: Mapping[str, Kind], cached: Cached | None,
    folder: Path,
) -> Iterator[tuple[duckdb.DuckDBPyConnection, list[Returned], Outcome]]:  # fmt: skip
    """A session in which the staged drops are judged against the ledger, of each what came back, and what is to be told of
    them. Nothing is written but what does not fit into memory, below `folder`."""
    with duckdb.connect(config={**LITTLE_MEMORY, "temp_directory": str(folder / "spilled")}) as con:
        con.execute("set enable_progress_bar = false")  # it would be drawn into what a command answers
        con.execute("create temp table shared_kind (kind varchar)")
        for kind in kinds.values():
            if kind.shared:
                con.execute("insert into shared_kind values ($kind)", {"kind": kind.name})
        by_number = {e.number: e for e in entries}
        back = [Returned(ledger, by_number, s) for s in news]
        load_mended(con, back)
        load_known(con, ledger, entries, news, cached, _keyless(kinds))
        judge(con, sum(s.parts for s in news), lambda: load_waited(con, ledger, entries, kinds))
        yield con, back, outcome(con)


def _keyless(kinds: Mapping[str, Kind]) -> list[str]:
    return [k.name for k in kinds.values() if k.keyed_by_content]


def segments_of(
    con: duckdb.DuckDBPyConnection, drop: Staged, at: int, back: Returned, of_all: Outcome, here: Path,
    kinds: Mapping[str, Kind],
) -> dict[str, tuple[Path, int]]:  # fmt: skip
    """The segments of a judged drop by name, some of them made in `here`: where each is, and its rows."""
    parts = write_segments(con, drop, at, here, _keyless(kinds), of_all)
    if rows := back.write(here / f"{RETURNED}.parquet"):
        parts[RETURNED] = (here / f"{RETURNED}.parquet", rows)
    return parts


def entry_of(
    con: duckdb.DuckDBPyConnection, drop: Staged, back: Returned, parts: Mapping[str, tuple[Path, int]], rules: str
) -> Entry:
    """A judged drop's entry, before its segments have their place."""
    notes = (*drop.notes, *back.notes)
    return Entry(
        previous="", recorded="", what="drop", rules=rules, partner=drop.partner, drop=drop.drop, size=drop.size,
        name=drop.name, mapping=drop.used, retaken=drop.retaken, unreadable=drop.unreadable, sheets=tuple(drop.sheets),
        receipt=_receipt(con, drop, parts), notes=notes, format=4 if parts else 3 if notes else 1,
    )  # fmt: skip


def _receipt(con: duckdb.DuckDBPyConnection, drop: Staged, segments: Mapping[str, tuple[Path, int]]) -> Receipt:
    fates: dict[str, int] = {}
    files = [str(segments[name][0]) for name in ("part", *drop.kinds) if name in segments]
    if files:
        told = con.execute(
            "select fate, count(*) from read_parquet($files, hive_partitioning=false) group by fate", {"files": files}
        )
        fates = dict(told.fetchall())
    asked = segments["asked"][1] if "asked" in segments else 0
    return Receipt(
        lines=drop.lines,
        furniture=drop.furniture,
        blank=drop.blank,
        records=drop.records,
        parts=sum(fates.values()),
        entered=sum(fates.get(f, 0) for f in ENTERED),
        amended=fates.get("amends", 0),
        held=sum(fates.get(f, 0) for f in HELD),
        repeated=fates.get("repeated", 0),
        asked=asked,
    )
