"""One drop, from its kept bytes to staged parts: read, map, check. Joins intake and check for `run.py`."""

import os
from collections import deque
from collections.abc import Callable, Collection, Iterable, Iterator
from collections.abc import Mapping as MappingLike
from concurrent.futures import Future, ThreadPoolExecutor
from pathlib import Path
from threading import Lock
from typing import TypeVarTuple

import duckdb
import pyarrow as pa

from pipeline.check.shape import check_shape
from pipeline.errors import BadUsage
from pipeline.faults import Fault
from pipeline.intake.cast import cast_faults, cast_sql, headings_of
from pipeline.intake.finding import find_sheets
from pipeline.intake.first_pass import Orders
from pipeline.intake.mapping import zones
from pipeline.intake.match import Match
from pipeline.intake.names import Names
from pipeline.intake.notes import left_out, notes_on
from pipeline.intake.plain import Why, plain_cells
from pipeline.intake.read import Sheet, Tally, Unreadable, rows, trimmed
from pipeline.intake.reshape import FillDown, Shape, lines_of, rows_at_once, shapes_of
from pipeline.intake.stated import NOTHING
from pipeline.intake.values import Values
from pipeline.intake.ways import Mapping
from pipeline.ledger.entry import SheetRead
from pipeline.ledger.identity import content_sql, identity_sql, key_sql
from pipeline.ledger.staging import Kept, Sink, Staged
from pipeline.world import is_worlds
from schemas.kinds import Kind

WORKERS = min(2, os.cpu_count() or 1)  # batches examined at once: more would only wait for the memory
CHECKING = Lock()  # a model keeps notes while it checks
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
        for sheet, match, is_meant in find_sheets(path, staged.name, mapping, kinds):
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
    staged.lines = staged.furniture = staged.blank = staged.records = 0


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
    header = list(match.header) if match else _unknown_header(sheet, header_row)
    staged.sheets.append(
        SheetRead(sheet.name, header_row if sheet.has_header_row else 0, tuple(header), sheet.encoding, sheet.delimiter)
    )
    tally, refused = Tally(), _refused(match)
    staged.refused = staged.refused or refused[0]
    shapes = [] if match is None or refused[0] else shapes_of(match, kinds)
    fill_down = FillDown(match.sheet, match.header) if match and not refused[0] else None
    with duckdb.connect(config={"autoinstall_known_extensions": "false", "TimeZone": "UTC"}) as con:
        con.execute("set enable_progress_bar = false")  # it would be drawn into what a command answers
        orders = Orders(sheet, match, shapes, kinds, zone, staged.folder) if match and shapes else None
        stated, decimal = (match.sheet.stated, match.sheet.decimal) if match else (NOTHING, ".")

        def examined(table: pa.Table, cells: pa.Table | None, marks: Tally) -> Kept:
            kept = Kept(staged.partner)
            kept.write_records(sheet.name, table, len(header))
            if match is None or cells is None or orders is None:
                _hold_unmapped(table, kept, sheet.name, refused)
            else:
                with con.cursor() as own:
                    _read_parts(own, cells, sheet, match, shapes, kept, kinds, zone, names, marks, orders)
            return kept

        def batches() -> Iterator[tuple[pa.Table, pa.Table | None, Tally]]:
            for table in rows(sheet, header_row, len(header), tally, staged.folder, stated, decimal):
                cells = fill_down(con, trimmed(table)) if fill_down else None
                noted, few = tally.noted(), rows_at_once(shapes)
                for start in range(0, max(1, table.num_rows), few):
                    yield table.slice(start, few), cells.slice(start, few) if cells else None, noted
                tally.forget(table.column("row")[-1].as_py() if table.num_rows else 0)

        for kept in side_by_side(examined, batches()):
            staged.keep(kept)
    staged.notes += notes_on(sheet, tally)
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
            if len(waiting) > WORKERS:
                yield waiting.popleft().result()
        while waiting:
            yield waiting.popleft().result()


def _first_filled(sheet: Sheet) -> int:
    """Row number of the first row with text: taken for the headings when no mapping says better."""
    return next((n for n, r in enumerate(sheet.head, 1) if any(c.strip() for c in r)), 1)


def _unknown_header(sheet: Sheet, header_row: int) -> list[str]:
    """The row taken for the headings, as wide as the widest row near the top: a title must not hide cells."""
    found = [c.strip() for c in sheet.head[header_row - 1]]
    return found + [""] * (max(map(len, sheet.head)) - len(found))


NO_MAPPING = ("no mapping", "", "headings that the partner's mapping or our own forms know",
              "Tell the programme: this sheet is of a new sort. It will be taken in once its headings are mapped.")  # fmt: skip
UNCONFIRMED = ("mapping not confirmed", "", "a mapping of this sheet that the programme has confirmed",
               "Nothing is wrong with your sheet. It will be taken in once the programme has confirmed how it is read.")  # fmt: skip
TWICE = ("heading twice", "Two columns have the heading “{heading}”.", "each heading once",
         "Rename or delete the column that is not meant, and hand the sheet in again.")  # fmt: skip


def _refused(match: Match | None) -> tuple[str, str, str, str]:
    """Why no row of a sheet can be read (code, found, wanted, advice); the code is "" when nothing stands against it."""
    if match is None:
        return NO_MAPPING
    if match.twice:
        code, found, wanted, advice = TWICE
        return code, found.replace("{heading}", match.twice), wanted, advice
    return ("", "", "", "") if match.sheet.confirmed else UNCONFIRMED


def _hold_unmapped(table: pa.Table, staged: Sink, sheet: str, refused: tuple[str, str, str, str]) -> None:
    """Hold every row, since nobody can tell what its cells are."""
    numbers = table.column("row").to_pylist()
    staged.write_unmapped(sheet, numbers)
    staged.write_faults(Fault(sheet, n, 1, "", "", "", *refused) for n in numbers)


def _read_parts(
    con: duckdb.DuckDBPyConnection, table: pa.Table, sheet: Sheet, match: Match, shapes: list[Shape], staged: Sink,
    kinds: MappingLike[str, Kind], zone: str, names: Names, tally: Tally, orders: Orders,
) -> None:  # fmt: skip
    silent = set(table.column("row").to_pylist()) if all(s.sometimes for s in shapes) else set()
    for written in shapes:
        kind = kinds[written.part.kind]
        values = Values(written, kind, match.sheet, sheet.native, names)
        cells = values(lines_of(con, table, written, match.sheet.blanks))
        typed, why = _typed(con, cells, sheet, match, values.shape, kind, zone, orders)
        if typed.num_rows:
            silent -= {line // written.width for line in typed.column("row").to_pylist()} if silent else set()
            _read_part(con, typed, why, sheet, match, values, staged, kind, tally)
    if silent:
        _hold_silent(sorted(silent), staged, sheet.name, [s.asks for s in shapes])


def _typed(
    con: duckdb.DuckDBPyConnection, cells: pa.Table, sheet: Sheet, match: Match, shape: Shape, kind: Kind, zone: str,
    orders: Orders,
) -> tuple[pa.Table, MappingLike[tuple[str, str], Why]]:  # fmt: skip
    """Lines as the kind's columns, and why some cells are held; cast once more where odd cells could be put plainly."""

    def cast(told: pa.Table, plain: Collection[str]) -> pa.Table:
        con.register("cells", told)
        made = con.sql(
            cast_sql(kind, match.sheet, shape.part, shape.header, sheet.native, zone, plain)
        ).to_arrow_table()
        con.unregister("cells")
        return made

    typed = cast(cells, ())
    plain = plain_cells(typed, kind, match.sheet, shape.part, sheet.native, zone, orders.of(shape))
    return (typed, {}) if plain is None else (cast(plain.beside(cells), plain.columns), plain.why)


def _hold_silent(rows: list[int], staged: Sink, sheet: str, asked: list[str]) -> None:
    """A row with something in it that yields nothing would be lost without a word."""
    staged.write_unmapped(sheet, rows)
    wanted = "something in " + " or ".join(dict.fromkeys(asked))
    advice = (
        "If the row tells of something, fill one of these cells; if it is a note or a sum, take it out of the table."
    )
    staged.write_faults(Fault(sheet, n, 1, "", "", "", "says nothing", "", wanted, advice) for n in rows)


def _read_part(
    con: duckdb.DuckDBPyConnection, typed: pa.Table, why: MappingLike[tuple[str, str], Why], sheet: Sheet, match: Match,
    values: Values, staged: Sink, kind: Kind, tally: Tally,
) -> None:  # fmt: skip
    """`row` of typed is the line of a shape until its parts and faults are written."""
    shape = values.shape
    part = shape.part
    faults = cast_faults(con, typed, kind, part, sheet.name, shape.first, match.sheet.decimal, why)
    spoiled = _spoiled(typed, tally, sheet, match, shape) if tally.spoiled else []
    told = {(f.row, f.column) for f in spoiled}
    unread, cells = values.faults(typed, sheet.name)
    faults = [*unread, *(f for f in faults if (f.row, f.column) not in cells)]
    faults = spoiled + [f for f in faults if (f.row, f.column) not in told]
    uncast = {(f.row, f.column) for f in faults} | cells
    with CHECKING:
        faults += check_shape(typed, kind, headings_of(kind, part), sheet.name, shape.first, uncast, part.codes)
    if tally.too_long:
        faults += _too_long(typed, set(tally.too_long), sheet, match, kind, shape)
    of_rows = {f for f in spoiled if not f.column}
    whole = {f.row for f in of_rows}  # what else is wrong with such a row tells nothing
    faults = values.explained([f for f in faults if f.row not in whole or f in of_rows])
    staged.write_faults(map(shape.told, faults))
    filled = [c.name for c in kind.columns if typed.column(c.name).null_count < typed.num_rows]
    owner = "'" + staged.partner.replace("'", "''") + "'"
    con.register("typed", typed)
    named = con.sql(
        f"""select {identity_sql(kind.name, kind.shared, owner, "key")} as identity, content, key
            from (select {key_sql(kind)} as key, {content_sql(filled)} as content from typed)"""
    ).to_arrow_table()
    con.unregister("typed")
    staged.write_parts(sheet.name, shape.places(typed.column("row")), kind, typed, named, {f.row for f in faults})


def _too_long(typed: pa.Table, too_long: set[int], sheet: Sheet, match: Match, kind: Kind, shape: Shape) -> list[Fault]:
    """Rows with more filled cells than there are headings: something moved sideways, so no cell can be trusted."""
    return [
        Fault(sheet.name, line, 0, kind.name, "", "", "row too long", "", f"{len(match.header)} cells, as there are headings",
              "Look for a delimiter inside a text, such as a decimal comma, and put that text in quotation marks.")
        for line in typed.column("row").to_pylist() if line // shape.width in too_long
    ]  # fmt: skip


def _spoiled(typed: pa.Table, tally: Tally, sheet: Sheet, match: Match, shape: Shape) -> list[Fault]:
    """Rows and cells that were read but are not what their owner meant; a cell that nobody asks for is no matter."""
    asked, blanks = shape.reads(), {b.casefold() for b in match.sheet.blanks}
    lines: dict[int, list[int]] = {}
    for line in typed.column("row").to_pylist():
        lines.setdefault(line // shape.width, []).append(line)
    faults = []
    for s in tally.spoiled:
        if s.column is None:
            told = [(line, "", "") for line in lines.get(s.row, [])]
        elif s.column in asked and s.found.casefold() not in blanks:
            column, heading, places = asked[s.column]
            told = [(n, column, heading) for n in lines.get(s.row, []) if not places or n % shape.width in places]
        else:
            continue
        faults += [
            Fault(sheet.name, line, 0, shape.part.kind, column, heading, s.code, s.found, s.wanted, s.advice)
            for line, column, heading in told
        ]
    return faults
