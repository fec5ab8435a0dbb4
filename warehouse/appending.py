"""Entries added to the projection's base tables: many small segments in one statement a kind, upcast as they are read."""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

import duckdb
import pyarrow as pa

from schemas.upcasts import OTHER_SEGMENTS, UPCASTS, upcast_sql

if TYPE_CHECKING:
    from schemas.kinds import Kind
    from warehouse.database import Load

AT_ONCE = 1000  # entries whose segments are read together
TABLES = {
    "part": "part",
    "fault": "fault",
    "asked": "asked",
    "returned": "returned",
}  # besides <kind>_said; the other segments are read where they lie

# of an event, which is a part too
PART_OF_EVENT = "r.sheet, r.row, r.part, r.fate, r.identity, r.key, r.content"
Cited = tuple[str, int, str]  # a segment's file, the entry that cites it, and whose that is
_NOT_OF_ENTRY = ("segments", "versions", "erased", "contradicts", "whole")
_ROWS = "read_parquet($files, filename='from_file', union_by_name=true, hive_partitioning=false)"
# what is left of faults whose texts were erased with their drop; {entries}: numbers, parted by commas
ERASED = """
select entry, sheet, row, part, kind, '' as "column", '' as heading, 'erased' as code, '' as found,
    'the row as it was handed in' as wanted, 'Its bytes were erased on request: hand the row in anew.' as advice
from part where entry in ({entries}) and fate in ('faulty', 'conflict', 'question')
"""


def append_loads(con: duckdb.DuckDBPyConnection, loads: "Sequence[Load]", kinds: "Mapping[str, Kind]") -> None:
    """Add what the entries say to the base tables. KeyError when a version's upcast is missing."""
    for start in range(0, len(loads), AT_ONCE):
        _append(con, loads[start : start + AT_ONCE], kinds)


def _append(con: duckdb.DuckDBPyConnection, loads: "Sequence[Load]", kinds: "Mapping[str, Kind]") -> None:
    append_entries(con, loads)
    by_sort: dict[tuple[str, int], list[Cited]] = defaultdict(list)
    events: dict[str, list[Cited]] = defaultdict(list)
    for load in loads:
        for kind, path in load.segments.items():
            told = str(path), load.number, load.partner
            if kind in kinds or kind in TABLES:
                by_sort[kind, load.versions[kind]].append(told)
            if kind in kinds and not load.whole:
                events[kind].append(told)
    for (kind, version), cited in by_sort.items():
        newest = kinds[kind].version if kind in kinds else OTHER_SEGMENTS[kind]
        rows = upcast_sql(kind, version, newest, _ROWS, UPCASTS)
        partner = ", c.partner" if kind == "part" else ""  # events carry theirs
        _add(con, TABLES.get(kind, f"{kind}_said"), f"c.entry{partner}, r.* exclude (from_file)", rows, cited)
    for kind, cited in events.items():
        _add(con, "part", f"c.entry, c.partner, '{kind}' as kind, {PART_OF_EVENT}", _ROWS, cited)
    erased = [str(load.number) for load in loads if load.erased]
    if erased:
        con.execute(f"insert into fault by name {ERASED.format(entries=', '.join(erased))}")


def _add(con: duckdb.DuckDBPyConnection, table: str, columns: str, rows: str, cited: "Sequence[Cited]") -> None:
    """Add the rows of those files. Equal bytes make one file: each entry that cites it has rows of its own."""
    con.register("cited", pa.table(dict(zip(("from_file", "entry", "partner"), zip(*cited, strict=True), strict=True))))
    con.execute(
        f"insert into {table} by name select {columns} from {rows} r join cited c on c.from_file = r.from_file",
        {"files": sorted({file for file, _, _ in cited})},
    )


def append_entries(con: duckdb.DuckDBPyConnection, loads: "Sequence[Load]") -> None:
    """Add what the entries say themselves, without their segments."""
    told = [{k: v for k, v in vars(load).items() if k not in _NOT_OF_ENTRY} for load in loads]
    con.register("told", pa.Table.from_pylist(told))  # one by one, thousands of rows would take seconds
    con.execute("insert into entry by name select * from told")
    beside = [(load.number, drop) for load in loads for drop in load.contradicts]
    if beside:
        con.executemany("insert into contradicts values (?, ?)", beside)
