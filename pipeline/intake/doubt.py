"""Cells that were read but are not what their owner meant: errors of a spreadsheet, letters that could not be read."""

from collections.abc import Callable, Iterator

import pyarrow as pa
import pyarrow.compute as pc

from pipeline.intake.sheet import Sheet, Spoiled, Tally

ERROR = r"^\s*#(N/A|REF!|VALUE!|DIV/0!|NAME\?|NUM!|NULL!|SPILL!|CALC!|GETTING_DATA|FIELD!|BLOCKED!|UNKNOWN!|BUSY!)\s*$"
LOST = "\ufffd"


def with_doubts(tables: Iterator[pa.Table], sheet: Sheet, tally: Tally) -> Iterator[pa.Table]:
    """The same tables; doubtful cells are noted in the tally. Only sheets in which there may be any are looked through."""
    for table in tables:
        if sheet.doubtful:
            for place, name in enumerate(table.column_names[1:]):
                cells = table.column(name)
                _note(table, cells, place, ERROR, _error, tally)
                _note(table, cells, place, LOST, _lost, tally)
        yield table


def _note(
    table: pa.Table,
    cells: pa.ChunkedArray,
    place: int,
    pattern: str,
    told: Callable[[int, int, str], Spoiled],
    tally: Tally,
) -> None:
    found = pc.match_substring_regex(cells, pattern)
    if pc.any(found).as_py():
        pairs = zip(table.column("row").filter(found).to_pylist(), cells.filter(found).to_pylist(), strict=True)
        tally.spoiled += [told(row, place, text) for row, text in pairs]


def _error(row: int, column: int, text: str) -> Spoiled:
    return Spoiled(row, column, "error cell", text.strip(), "a value; this is an error of the spreadsheet",
                   "Mend the formula, or write the value itself; leave the cell blank if there is none.")  # fmt: skip


def _lost(row: int, column: int, text: str) -> Spoiled:
    return Spoiled(row, column, "lost letter", text, "letters that can be read",
                   "Write the cell anew and save the file as UTF-8; some of its letters were lost on the way.")  # fmt: skip
