"""One drop, from its kept bytes to staged parts: read, map, check. Joins intake and check for `run.py`."""

import os
from collections import deque
from collections.abc import Callable, Iterable, Iterator
from collections.abc import Mapping as MappingLike
from concurrent.futures import Future, ThreadPoolExecutor
from pathlib import Path
from typing import TypeVarTuple

import duckdb
import pyarrow as pa

from pipeline.engine import connection
from pipeline.errors import BadUsage
from pipeline.intake.distinct import Seen
from pipeline.intake.finding import find_sheets
from pipeline.intake.first_pass import Orders
from pipeline.intake.form_marks import without_unfilled
from pipeline.intake.given_back import Origin, origin_of
from pipeline.intake.mapping import zones
from pipeline.intake.match import Match
from pipeline.intake.names import Names
from pipeline.intake.notes import left_out, notes_on
from pipeline.intake.read import Sheet, Tally, Unreadable, encoded, rows, trimmed
from pipeline.intake.reshape import FillDown, rows_at_once, shapes_of
from pipeline.intake.starred import notes_on_starred
from pipeline.intake.stated import NOTHING
from pipeline.intake.ways import Mapping
from pipeline.intake.workbook import unspoken
from pipeline.ledger.entry import SheetRead
from pipeline.ledger.returned import NAME as RETURNED
from pipeline.ledger.staging import Kept, Staged
from pipeline.parts import hold_unmapped, read_parts
from pipeline.world import is_worlds
from schemas.kinds import Kind

WORKERS = min(2, os.cpu_count() or 1)  # batches examined at once: more would only wait for the memory
NAMES = Names()  # without a programme's own


def examine(
    path: Path, staged: Staged, mapping: Mapping, kinds: MappingLike[str, Kind], zone: str, names: Names = NAMES
) -> Staged:
    """Read the kept bytes at `path` into `staged`. Whatever is wrong with them is staged as faults, never raised."""
    if zone not in zones():
        raise BadUsage(
            f'programme.toml, [programme]: `timezone` is {zone!r}; the name of a zone such as "Europe/Lisbon" is wanted.'
        )
    try:
        found = find_sheets(path, staged.name, mapping, kinds)
        staged.width = max((len(_header(s, m)) for s, m, is_meant in found if is_meant and not s.unreadable), default=0)
        for sheet, match, is_meant in found:
            if sheet.unreadable:
                staged.unreadable = f"The file cannot be read: {sheet.unreadable}."
            elif is_meant:
                _read_sheet(sheet, match, staged, kinds, zone, names)
            else:
                _leave_out(sheet, staged)
    except (Unreadable, UnicodeError, pa.ArrowInvalid, duckdb.Error) as e:
        if is_worlds(e):
            raise
        _forget(staged)
        staged.unreadable = f"The file cannot be read to its end: {_in_short(e)}."
    except OSError as e:
        if e.errno is not None:  # the disk's fault; without a number it is a library's word for a damaged file
            raise
        _forget(staged)
        staged.unreadable = f"The file cannot be read to its end: {_in_short(e)}."
    return staged.close()


def _in_short(e: BaseException) -> str:
    """What a library says without its hints for programmers and our own paths."""
    return (str(e).splitlines() or [type(e).__name__])[0].rstrip(".")


def _forget(staged: Staged) -> None:
    """A file that breaks off in the middle yields nothing: half a file must not look like a whole one."""
    staged.close()
    for made in staged.folder.glob("*.parquet"):
        made.unlink()
    staged.kinds.clear()
    staged.sheets.clear()
    staged.notes.clear()
    staged.refused = ""
    staged.lines = staged.furniture = staged.blank = staged.records = staged.parts = 0


def _leave_out(sheet: Sheet, staged: Staged) -> None:
    """A sheet beside the data, such as notes or a chart's numbers: its lines are counted, and its owner is told."""
    staged.sheets.append(SheetRead(sheet.name, 0, (), sheet.encoding, sheet.delimiter))
    staged.lines += sheet.height
    staged.furniture += sheet.height
    staged.notes += left_out(sheet)


def _read_sheet(
    sheet: Sheet, match: Match | None, staged: Staged, kinds: MappingLike[str, Kind], zone: str, names: Names
) -> None:
    header_row = match.header_row if match else _first_filled(sheet)
    origin = origin_of(sheet.head)
    header = _header(sheet, match)
    shown = _as_written(sheet, header_row, header) if origin else header  # ours tell what it is if it is read again
    staged.sheets.append(
        SheetRead(sheet.name, header_row if sheet.has_header_row else 0, tuple(shown), sheet.encoding, sheet.delimiter)
    )
    tally, refused = Tally(), why_refused(match, sheet)
    staged.refused = staged.refused or refused[0]
    shapes = [] if match is None or refused[0] else shapes_of(match, kinds)
    fill_down = FillDown(match.sheet, match.header) if match and not refused[0] else None
    with connection() as con:
        orders = Orders(sheet, match, shapes, kinds, zone, staged.folder) if match and shapes else None
        seen = Seen()
        stated, decimal = (match.sheet.stated, match.sheet.decimal) if match else (NOTHING, ".")
        merged = match.merged if match else ()

        def examined(table: pa.Table, cells: pa.Table | None, marks: Tally) -> Kept:
            kept = Kept(staged.partner, staged.width)
            kept.write_records(sheet.name, table, len(header))
            if match is None or cells is None or orders is None:
                hold_unmapped(table, kept, sheet.name, refused)
            else:
                with con.cursor() as own:
                    read_parts(own, cells, sheet, match, shapes, kept, kinds, zone, names, marks, orders, seen)
            return kept

        def batches() -> Iterator[tuple[pa.Table, pa.Table | None, Tally]]:
            for read in rows(sheet, header_row, len(header), tally, staged.folder, stated, decimal, merged):
                table, ids = _stripped(origin, read, tally) if origin else (read, None)
                if ids:
                    staged.write(
                        RETURNED, ids.add_column(0, "sheet", pa.array([sheet.name] * ids.num_rows, pa.string()))
                    )
                table = encoded(table)
                cells = fill_down(con, trimmed(table)) if fill_down else None
                if match is not None and cells is not None:
                    cells, left = without_unfilled(match, cells)
                    tally.left_blank += left
                noted, few = tally.noted(), rows_at_once(shapes)
                for start in range(0, max(1, table.num_rows), few):
                    yield table.slice(start, few), cells.slice(start, few) if cells else None, noted
                tally.forget(table.column("row")[-1].as_py() if table.num_rows else 0)

        one_behind(staged.keep, side_by_side(examined, batches()))
    staged.notes += [*notes_on(sheet, tally), *notes_on_starred(sheet, shapes, kinds, names)]
    staged.lines += tally.lines
    staged.furniture += tally.furniture
    staged.blank += tally.blank
    staged.records += tally.records


T = TypeVarTuple("T")


def side_by_side(work: Callable[[*T], Kept], given: Iterable[tuple[*T]]) -> Iterator[Kept]:
    """What `work` makes of each, in order, some of them worked on at once; no more are taken from `given` than that."""
    with ThreadPoolExecutor(WORKERS) as pool:
        waiting: deque[Future[Kept]] = deque()
        for one in given:
            waiting.append(pool.submit(work, *one))
            if len(waiting) >= WORKERS:
                yield waiting.popleft().result()
        while waiting:
            yield waiting.popleft().result()


def one_behind(work: Callable[[Kept], None], given: Iterable[Kept]) -> None:
    """Do `work` with each, in order, while the next is made; no more of them wait. What `work` raises goes before all else."""
    with ThreadPoolExecutor(1) as pool:
        last: Future[None] | None = None
        try:
            for one in given:
                if last is not None:
                    last.result()
                last = pool.submit(work, one)
        finally:
            if last is not None:
                last.result()


def _as_written(sheet: Sheet, row: int, header: list[str]) -> list[str]:
    """The headings with those of the columns that we wrote, which no way of writing knows."""
    told = [c.strip() for c in sheet.head[row - 1]]
    return [c or (told[n] if n < len(told) else "") for n, c in enumerate(header)]


def _stripped(origin: Origin, table: pa.Table, tally: Tally) -> tuple[pa.Table, pa.Table]:
    """Rows without what we wrote beside them; those that hold nothing else are blank."""
    rows, ids = origin.strip(table)
    tally.records -= table.num_rows - rows.num_rows
    tally.blank += table.num_rows - rows.num_rows
    return rows, ids


def _first_filled(sheet: Sheet) -> int:
    """Row number of the first row with text: taken for the headings when no mapping says better."""
    return next((n for n, r in enumerate(sheet.head, 1) if any(c.strip() for c in r)), 1)


def _header(sheet: Sheet, match: Match | None) -> list[str]:
    """The headings; where no mapping knows them the row taken for them, as wide as the widest row near the top: a title
    must not hide cells."""
    if match:
        return list(match.header)
    found = [c.strip() for c in sheet.head[_first_filled(sheet) - 1]]
    return found + [""] * (max(map(len, sheet.head)) - len(found))


NO_MAPPING = ("no mapping", "", "headings that the partner's mapping or our own forms know",
              "Tell the programme: this sheet is of a new sort. It will be taken in once its headings are mapped.")  # fmt: skip
UNCONFIRMED = ("mapping not confirmed", "", "a mapping of this sheet that the programme has confirmed",
               "Nothing is wrong with your sheet. It will be taken in once the programme has confirmed how it is read.")  # fmt: skip
TWICE = ("heading twice", "Two columns have the heading “{heading}”.", "each heading once",
         "Rename or delete the column that is not meant, and hand the sheet in again.")  # fmt: skip

RENAMED = ("heading renamed", "The heading “{heading}” is gone, and one stands there that this sheet never had.",
           "the headings as they were handed out",
           "Write “{heading}” again where it was. If you took its column out and added one of your own, take yours out too.")  # fmt: skip


MERGED = ("merged heading not there", "The mapping calls cells merged under “{heading}”; no column is headed so.",
          "a heading of this sheet: {columns}",
          "Nothing is wrong with your sheet. It will be taken in once the programme has mended what its mapping says of merged cells.")  # fmt: skip
NAMED = 12  # so many headings are named


def why_refused(match: Match | None, sheet: Sheet) -> tuple[str, str, str, str]:
    """Why no row of a sheet can be read (code, found, wanted, advice); the code is "" when nothing stands against it."""
    if match is None:
        return NO_MAPPING
    there = [f"“{h}”" for h in match.header if h]
    columns = ", ".join(there[:NAMED]) + (f" and {len(there) - NAMED} more" if len(there) > NAMED else "")
    # a name that no column has is no harm where no merged cell waits for one
    waits = bool(match.unmerged) and unspoken(sheet, match.header_row, match.merged)
    unmerged = match.unmerged if waits else ""
    for heading, (code, *said) in ((match.twice, TWICE), (match.renamed, RENAMED), (unmerged, MERGED)):
        if heading:
            found, wanted, advice = (t.replace("{columns}", columns).replace("{heading}", heading) for t in said)
            return code, found, wanted, advice
    return ("", "", "", "") if match.sheet.confirmed else UNCONFIRMED
