"""Rows among the data that are no records: headings written again, units below them, notes below the table.

Only what is certain is left out, and each such row is told of. Whatever else looks like a sum or a note stays a
record, which the check then holds with its reason, unless the mapping says how such rows begin.
"""

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import pyarrow as pa
import pyarrow.compute as pc

from pipeline.intake.sheet import Tally
from pipeline.intake.stated import Stated

MOST_NOTES = 60  # rows below a table that may be notes; a longer tail is not certain to be none of it
AGAIN, UNITS, NOTE, SKIPPED = "the headings again", "units", "a note below the table", "begins as the mapping says"

_UNITS = {
    "m", "cm", "mm", "km", "um", "ft", "in", "fm", "m2", "cm2", "mm2", "km2", "ha", "ft2", "kg", "g", "mg", "t", "lb", "lbs", "oz",
    "l", "ml", "s", "sec", "min", "mins", "h", "hr", "hrs", "hours", "minutes", "seconds", "days", "degc", "deg", "c", "f", "k",
    "psu", "ppt", "kn", "kt", "knots", "bft", "hpa", "mbar", "n", "no", "nr", "count", "ind", "umol", "lux", "ntu", "utc",
    "yyyy-mm-dd", "dd/mm/yyyy", "mm/dd/yyyy", "dd-mm-yyyy", "dd.mm.yyyy", "hh:mm", "hh:mm:ss", "yyyy-mm-dd hh:mm", "-",
}  # fmt: skip
_UNMISTAKABLE = re.compile(
    r"[%‰°²³/]|^[(\[].*[)\]]$|^(cm|mm|km|cm2|m2|degc|psu|kg|mg|ml|min|mins|hpa|ntu|yyyy.*|hh:mm.*)$"
)
_SAYS_NOTE = re.compile(
    r"(notes?|sources?|remarks?|fuente|nota|fonte|observa|source|remarque|kilde|merknad|legend)\b", re.I
)
_VALUE = re.compile(r"[-+\d.,:/ ]*\d[-\d.,:/ ]*")  # a number, a day, a time
_MANY_WORDS = 3


@dataclass(frozen=True)
class Top:
    """The headings of a sheet and where they stand."""

    row: int
    cells: tuple[str, ...]


def without_furniture(tables: Iterator[pa.Table], top: Top, stated: Stated, tally: Tally) -> Iterator[pa.Table]:
    """The same tables without rows that are furniture, which are counted and told of in the tally.

    Tables have `row` and c0 ..; blank rows are gone already, so that the first row met is the one below the headings.
    """
    first, held_back = True, None
    for table in tables:
        if table.num_rows == 0:
            continue
        rest = table if held_back is None else pa.concat_tables([held_back, table])
        if first:
            rest = _drop(rest, _unit_rows(rest, top, stated), UNITS, tally)
        rest = _drop(rest, _repeated(rest, top), AGAIN, tally)
        rest = _drop(rest, _begins(rest, stated.skip_rows_starting), SKIPPED, tally)
        first = False
        keep = rest.num_rows - _notes_at_end(rest, top)
        held_back = rest.slice(keep) if keep < rest.num_rows else None
        yield rest.slice(0, keep)
    if held_back is not None:
        numbers = held_back.column("row").to_pylist()
        yield _drop(held_back, numbers, NOTE, tally)


def _drop(table: pa.Table, numbers: Sequence[int], what: str, tally: Tally) -> pa.Table:
    if not numbers:
        return table
    away = pc.is_in(table.column("row"), pa.array(numbers, pa.int64()))
    tally.left_out += [(row, what) for row in numbers]
    tally.furniture += len(numbers)
    gone = set(numbers)
    tally.too_long = [r for r in tally.too_long if r not in gone]
    tally.spoiled = [s for s in tally.spoiled if s.row not in gone]
    return table.filter(pc.invert(away))


def _repeated(table: pa.Table, top: Top) -> list[int]:
    """Rows whose every cell is the heading above it."""
    named = [(i, h) for i, h in enumerate(top.cells) if h]
    if len(named) < 2:
        return []
    alike = None
    for i, heading in [*named, *((i, h) for i, h in enumerate(top.cells) if not h)]:
        here = pc.equal(pc.utf8_trim_whitespace(table.column(f"c{i}")), heading)
        alike = here if alike is None else pc.and_(alike, here)
        if not pc.any(alike).as_py():
            return []
    return [int(n) for n in table.column("row").filter(alike).to_pylist()]


def _unit_rows(table: pa.Table, top: Top, stated: Stated) -> list[int]:
    """The row below the headings when it holds units: the mapping says so, or every cell is one beyond doubt."""
    if stated.unit_row is False:
        return []
    [row] = table.slice(0, 1).to_pylist()
    filled = [c.strip().casefold() for k, c in row.items() if k != "row" and c.strip()]
    if stated.unit_row:  # a file of theirs that has none must not lose its first record
        return [] if any(_VALUE.fullmatch(c) for c in filled) else [int(row["row"])]
    bare = [
        re.sub(r"^[(\[]|[)\]]$", "", c).replace("²", "2").replace("°", "deg").replace("degdeg", "deg").strip(" .")
        for c in filled
    ]
    every = all(
        b in _UNITS or b in ("%", "‰") or ("/" in b and all(p in _UNITS for p in b.split("/") if p)) for b in bare
    )
    sure = sum(bool(_UNMISTAKABLE.search(c)) for c in filled)
    return [int(row["row"])] if len(filled) >= 2 and every and sure and row["row"] == top.row + 1 else []


def _begins(table: pa.Table, starts: Sequence[str]) -> list[int]:
    """Rows whose first filled cell begins with one of these texts."""
    if not starts:
        return []
    first = pa.chunked_array([pa.array([""] * table.num_rows, pa.string())])
    for name in table.column_names[1:]:
        cell = pc.utf8_trim_whitespace(table.column(name))
        first = pc.if_else(pc.equal(first, ""), cell, first)
    found = None
    for start in starts:
        here = pc.starts_with(first, start.strip(), ignore_case=True)
        found = here if found is None else pc.or_(found, here)
    return [int(n) for n in table.column("row").filter(found).to_pylist()]


def _notes_at_end(table: pa.Table, top: Top) -> int:
    """How many of the last rows are notes: one cell of prose in a table of three columns or more."""
    if sum(bool(h) for h in top.cells) < 3:
        return 0
    notes = 0
    for row in reversed(table.slice(max(0, table.num_rows - MOST_NOTES - 1)).to_pylist()):
        filled = [c.strip() for k, c in row.items() if k != "row" and c.strip()]
        if len(filled) != 1 or not _is_prose(filled[0]):
            break
        notes += 1
    return notes if notes <= MOST_NOTES else 0


def _is_prose(text: str) -> bool:
    words = [w for w in re.findall(r"[^\W\d_]+", text) if len(w) > 1]
    return bool(_SAYS_NOTE.match(text)) or text.startswith(("*", "†")) or len(words) >= _MANY_WORDS
