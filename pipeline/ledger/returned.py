"""Rows that were held, given back and handed in again: which held row each is, proved against the ledger."""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from pathlib import Path

import duckdb
import pyarrow as pa
import pyarrow.parquet as pq

from pipeline.held_ids import HeldId, read_id
from pipeline.ledger.entry import Entry
from pipeline.ledger.fates import parts_in, with_parts
from pipeline.ledger.staging import Staged
from pipeline.ledger.store import Ledger

NAME = "returned"  # of the segment: sheet, row, and the receipt, sheet and row that was held first
COLUMNS = pa.schema(
    [("sheet", pa.string()), ("row", pa.int64()), ("held_entry", pa.int64()), ("held_sheet", pa.string()),
     ("held_row", pa.int64())]
)  # fmt: skip
HELD = ("faulty", "conflict", "question")
LISTED = 12  # rows whose id was passed over and that are named

Place = tuple[str, int]


class Returned:
    """The rows of one staged drop that came back. mended: places whose held row was at fault itself; notes: for its letter."""

    def __init__(self, ledger: Ledger, entries: Mapping[int, Entry], drop: Staged) -> None:
        self.rows: dict[Place, HeldId] = {}
        self.mended: set[Place] = set()
        self.notes: list[str] = []
        told = pq.read_table(drop.path(NAME)).to_pylist() if drop.has(NAME) else []
        named = {(t["sheet"], t["row"]): read_id(t["told"]) for t in told}
        fates = _fates(ledger, entries, drop.partner, [i for i in named.values() if i])
        strange = []
        for place, held in sorted(named.items()):
            if held is None or held not in fates:
                strange.append(place[1])
                continue
            self.rows[place], is_fault = fates[held]
            if is_fault:
                self.mended.add(place)
        for row in strange[:LISTED]:  # by number alone: no text of a note can ever be erased
            self.notes.append(
                f"Row {row}: its held id is of no row of yours that was held, and was passed over; the row was read as a new one."
            )

    def write(self, path: Path) -> int:
        """Write the segment; gives how many rows it has."""
        rows = [(*place, *held) for place, held in sorted(self.rows.items())]
        pq.write_table(pa.Table.from_pylist([dict(zip(COLUMNS.names, r, strict=True)) for r in rows], COLUMNS), path)
        return len(rows)


def _fates(
    ledger: Ledger, entries: Mapping[int, Entry], partner: str, named: Sequence[HeldId]
) -> dict[HeldId, tuple[HeldId, bool]]:
    """Of ids that are rows of that partner with a held part: the row that was held first, and whether it was at fault."""
    by_entry: dict[int, set[HeldId]] = defaultdict(set)
    for held in named:
        by_entry[held.entry].add(held)
    found: dict[HeldId, tuple[HeldId, bool]] = {}
    for number, ids in by_entry.items():
        entry = entries.get(number)
        if entry is None or entry.partner != partner:
            continue
        parts = with_parts(entry)
        ledger.prove(entry, [*parts, *(s for s in entry.segments if s.kind == NAME)])
        first = _first(ledger, entry)
        wanted = [("row", "in", {i.row for i in ids}), ("fate", "in", set(HELD))]
        paths = {s.kind: ledger.segment_path(s) for s in parts}
        for t in parts_in(paths, ["sheet", "row", "fate"], wanted):
            held = HeldId(number, t["sheet"], t["row"])
            if held in ids:
                fault = t["fate"] == "faulty" and found.get(held, (held, True))[1]
                found[held] = first.get((held.sheet, held.row), held), fault
    return found


def _first(ledger: Ledger, entry: Entry) -> dict[Place, HeldId]:
    """Of rows that came back before: the row that was held first."""
    segment = entry.segment(NAME)
    if segment is None:
        return {}
    rows = pq.read_table(ledger.segment_path(segment)).to_pylist()
    return {(r["sheet"], r["row"]): HeldId(r["held_entry"], r["held_sheet"], r["held_row"]) for r in rows}


def load_mended(con: duckdb.DuckDBPyConnection, drops: Sequence[Returned]) -> None:
    """Make `mended` (pos, sheet, row): rows that were at fault and come back may amend, however many they are."""
    places = [(at, *place) for at, drop in enumerate(drops) for place in sorted(drop.mended)]
    con.execute("create temp table mended (pos int, sheet varchar, row bigint)")
    if places:
        con.register(
            "mended_rows", pa.table(dict(zip(("pos", "sheet", "row"), zip(*places, strict=True), strict=True)))
        )
        con.execute("insert into mended select * from mended_rows")
