"""Any file -> its sheets as text, with the row numbers that the partner's own program shows.

Row 1 is the first row of the sheet, title lines and blank rows counted, a cell with line breaks counted as
one row: what a spreadsheet shows. A sort of file is a module of its own: text (with its quick twin, tidy), parquet,
workbook. What they give goes through the same three steps: blank rows, furniture, doubtful cells.
"""

from bisect import bisect_left
from collections.abc import Iterator, Sequence
from pathlib import Path

import pyarrow as pa
import pyarrow.compute as pc

from pipeline.intake.doubt import with_doubts
from pipeline.intake.furniture import Top, without_furniture
from pipeline.intake.parquet import open_parquet, rows_parquet
from pipeline.intake.sheet import PARQUET, WORKBOOK, Sheet, Tally, Unreadable
from pipeline.intake.stated import NOTHING, Stated
from pipeline.intake.text import open_text, rows_plain
from pipeline.intake.tidy import Untidy, rows_quick
from pipeline.intake.workbook import OLE, ZIP, as_text, note_doubts, open_workbook

__all__ = ["Sheet", "Tally", "Unreadable", "encoded", "open_sheets", "rows", "rows_plain", "rows_quick", "trimmed"]


def open_sheets(path: Path, name: str, stated: Stated = NOTHING) -> list[Sheet]:
    """The sheets of a file; a file that cannot be read comes back as one sheet that says why.

    stated: what the mapping says of a text file's encoding and dialect.
    """
    try:
        with path.open("rb") as f:
            start = f.read(4)
        if start == b"PAR1":
            return [open_parquet(path)]
        if start[:2] == ZIP or start == OLE:
            return open_workbook(path)
        return [open_text(path, stated)]
    except (ValueError, OSError, pa.ArrowException) as e:
        if isinstance(e, MemoryError) or (
            isinstance(e, OSError) and e.errno
        ):  # of the world, not of what is in the file
            raise
        return [Sheet(name, path, [], unreadable=str(e) or type(e).__name__)]


def rows(
    sheet: Sheet,
    header_row: int,
    width: int,
    tally: Tally,
    scratch: Path,
    stated: Stated = NOTHING,
    decimal: str = ".",
    merged: Sequence[int] = (),
) -> Iterator[pa.Table]:
    """The records below the headings, in order, as tables of `row` (int64) and c0 .. c{width-1} (text, never null).

    Counts every line into `tally`. Blank rows are counted and left out, and so is what is certainly furniture. A row
    with more filled cells than there are headings is counted as a record, listed in tally.too_long, and comes with its
    first `width` cells. scratch: a folder for a copy in UTF-8. decimal: the
    partner's mark, with which typed numbers of a workbook are written; merged: places of columns whose merged cells speak
    for every row they cover. Unreadable when a file breaks off.
    """
    if sheet.form == PARQUET:  # headings are no row of it, and no person writes notes into it
        yield from with_doubts(_counted(_without_blank(rows_parquet(sheet, width), width, tally), tally), sheet, tally)
        return
    tally.furniture += header_row
    top = Top(header_row, tuple(c.strip() for c in [*sheet.head[header_row - 1], *[""] * width][:width]))
    if sheet.form == WORKBOOK:
        sheet = as_text(sheet, merged, decimal, scratch)
        note_doubts(sheet, header_row, merged, tally)
    source = _rows_of_text(sheet, header_row, width, tally, scratch)
    told = without_furniture(_without_blank(source, width, tally), top, stated, tally)
    yield from with_doubts(_counted(told, tally), sheet, tally)


def _rows_of_text(sheet: Sheet, header_row: int, width: int, tally: Tally, scratch: Path) -> Iterator[pa.Table]:
    """Rows of the quick reader as far as it goes, the others of the plain one."""
    at, quick = header_row, rows_quick(sheet, header_row, width, scratch)
    if quick is not None:
        try:
            for table in quick:
                yield table
                at = table.column("row")[-1].as_py()
            return
        except Untidy:
            pass  # the plain reader says what is the matter
    yield from rows_plain(sheet, at, width, tally)


def encoded(table: pa.Table) -> pa.Table:
    """The same rows with every cell as the place of its text among the column's distinct ones: a dictionary array a column."""
    cells = [c.combine_chunks().dictionary_encode() for c in table.columns[1:]]
    return pa.table([table.column("row"), *cells], names=table.column_names)


def trimmed(table: pa.Table) -> pa.Table:
    """The same rows, `encoded` or not, with white space (no-break spaces too) taken off both ends of every cell."""
    cells = [_trimmed(c) for c in table.columns[1:]]
    return pa.table([table.column("row"), *cells], names=table.column_names)


def _trimmed(column: pa.ChunkedArray) -> pa.ChunkedArray | pa.Array:
    if not pa.types.is_dictionary(column.type):
        return pc.utf8_trim_whitespace(column)
    whole = column.combine_chunks()
    return pa.DictionaryArray.from_arrays(whole.indices, pc.utf8_trim_whitespace(whole.dictionary))


def _counted(tables: Iterator[pa.Table], tally: Tally) -> Iterator[pa.Table]:
    for table in tables:
        tally.records += table.num_rows
        yield table


def _without_blank(tables: Iterator[pa.Table], width: int, tally: Tally) -> Iterator[pa.Table]:
    """Without blank rows, which are counted; a row filled only beyond the headings is not blank."""
    for table in tables:
        columns = [table.column(f"c{i}").fill_null("") for i in range(width)]
        first = table.column("row")[0].as_py() if table.num_rows else 0
        long = tally.too_long[bisect_left(tally.too_long, first) :]
        filled = pc.is_in(table.column("row"), pa.array(long, pa.int64()))
        for column in columns:
            if pc.all(filled).as_py():
                break
            filled = pc.or_(filled, pc.not_equal(pc.utf8_trim_whitespace(column), ""))
        blank = table.num_rows - (pc.sum(filled).as_py() or 0)
        tally.blank += blank
        named = pa.table({"row": table.column("row"), **{f"c{i}": c for i, c in enumerate(columns)}})
        yield named.filter(filled) if blank else named
