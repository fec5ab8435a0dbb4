"""Some rows of a sheet, from their cells to parts: shaped, cast, checked, named. Joins intake, check and the ledger's names."""

import datetime as dt
from collections.abc import Mapping as MappingLike
from collections.abc import Sequence
from threading import Lock

import duckdb
import pyarrow as pa
import pyarrow.compute as pc

from pipeline.check.shape import check_shape
from pipeline.check.words import Unit
from pipeline.faults import Fault
from pipeline.intake.cast import cast_faults, cast_sql, headings_of
from pipeline.intake.distinct import FEW, Seen, asked, cast_rows, patched
from pipeline.intake.first_pass import Orders
from pipeline.intake.match import Match
from pipeline.intake.names import Names
from pipeline.intake.plain import Why, plain_cells
from pipeline.intake.read import Sheet, Tally
from pipeline.intake.reshape import Shape, lines_of
from pipeline.intake.sums import sums_among
from pipeline.intake.units import exact_conversion
from pipeline.intake.values import Values
from pipeline.intake.ways import PartMap
from pipeline.ledger.hashing import contents_of, identities_of
from pipeline.ledger.identity import MARKS, SHARED, beginning, content_text_sql, key_sql
from pipeline.ledger.records import TEXTS
from pipeline.ledger.staging import Sink
from schemas.kinds import Kind

FIRST_DAY = (dt.date.min - dt.date(1970, 1, 1)).days
CHECKING = Lock()  # a model keeps notes while it checks


def hold_unmapped(table: pa.Table, staged: Sink, sheet: str, refused: tuple[str, str, str, str]) -> None:
    """Hold every row, since nobody can tell what its cells are."""
    numbers = table.column("row").to_pylist()
    staged.write_unmapped(sheet, numbers)
    staged.write_faults(Fault(sheet, n, 1, "", "", "", *refused) for n in numbers)


def read_parts(
    con: duckdb.DuckDBPyConnection, table: pa.Table, sheet: Sheet, match: Match, shapes: list[Shape], staged: Sink,
    kinds: MappingLike[str, Kind], zone: str, names: Names, tally: Tally, orders: Orders, seen: Seen,
) -> None:  # fmt: skip
    """Read every part that these rows yield, or say of each row why it yields none.

    table: rows, trimmed and filled down. tally: what the reader noted on them. orders: of days that the mapping leaves open.
    seen: cells of the sheet that were cast before.
    """
    silent = set(table.column("row").to_pylist()) if all(s.sometimes for s in shapes) else set()
    for written in shapes:
        kind = kinds[written.part.kind]
        values = Values(written, kind, match.sheet, sheet.native, names)
        cells = values(lines_of(con, table, written, match.sheet.blanks))
        typed, why = _typed(con, cells, sheet, match, values.shape, kind, zone, orders, seen)
        if typed.num_rows:
            silent -= {line // written.width for line in typed.column("row").to_pylist()} if silent else set()
            _read_part(con, typed, why, sheet, match, values, staged, kind, tally)
    if silent:
        _hold_silent(sorted(silent), staged, sheet.name, [s.asks for s in shapes])


def _typed(
    con: duckdb.DuckDBPyConnection, cells: pa.Table, sheet: Sheet, match: Match, shape: Shape, kind: Kind, zone: str,
    orders: Orders, seen: Seen,
) -> tuple[pa.Table, MappingLike[tuple[str, str], Why]]:  # fmt: skip
    """Lines as the kind's columns, and why some cells are held; cast once more where odd cells could be put plainly."""
    typed = cast_rows(con, cells, kind, match.sheet, shape, sheet.native, zone, seen)
    plain = plain_cells(typed, kind, match.sheet, shape.part, sheet.native, zone, orders.of(shape))
    if plain is None:
        return typed, {}
    odd = pa.concat_tables([told.select(["row"]) for told in plain.columns.values()]).column("row").combine_chunks()
    some = plain.beside(cells.filter(pc.is_in(cells.column("row"), value_set=odd)))
    sql = cast_sql(kind, match.sheet, shape.part, shape.header, sheet.native, zone, plain.columns)
    return patched(typed, asked(con, some, "cells", sql)), plain.why


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
    faults = cast_faults(typed, kind, part, sheet.name, shape.first, match.sheet.decimal, why)
    spoiled = _spoiled(typed, tally, sheet, match, shape) if tally.spoiled else []
    told = {(f.row, f.column) for f in spoiled}
    unread, cells = values.faults(typed, sheet.name)
    faults = [*unread, *(f for f in faults if (f.row, f.column) not in cells)]
    faults = spoiled + [f for f in faults if (f.row, f.column) not in told]
    uncast = {(f.row, f.column) for f in faults} | cells
    with CHECKING:
        faults += check_shape(
            typed, kind, headings_of(kind, part), sheet.name, shape.first, uncast, part.codes, units_of(kind, part)
        )
    if tally.too_long:
        faults += _too_long(typed, set(tally.too_long), sheet, match, kind, shape)
    sums = sums_among(typed, shape, kind, frozenset(part.fixed.keys() - match.given.keys()), sheet.name)
    of_rows = {*(f for f in spoiled if not f.column), *sums}
    whole = {f.row for f in of_rows}  # what else is wrong with such a row tells nothing
    faults = values.explained([f for f in [*sums, *faults] if f.row not in whole or f in of_rows])
    staged.write_faults(map(shape.told, faults))
    filled = [c.name for c in kind.columns if typed.column(c.name).null_count < typed.num_rows]
    full, blank = full_columns(typed, filled), {c.name for c in kind.columns} - set(filled)
    wide, said = said_once(typed, full) if set(filled) <= set(full) else (typed, [])
    content = content_text_sql(filled, full, said)
    said_of = wide.select([n for n in wide.column_names if not n.startswith("raw.")])
    texts = asked(con, said_of, "typed", f"select {key_sql(kind, full, blank)} as key, {content} as content from typed")
    identity = identities_of(kind.name, SHARED if kind.shared else staged.partner, texts.column("key"))
    named = (identity, contents_of(texts.column("content")), texts.column("key"))
    staged.write_parts(sheet.name, shape.places(typed.column("row")), kind, typed, named, {f.row for f in faults})


def units_of(kind: Kind, part: PartMap) -> dict[str, Unit]:
    """The units in which a partner writes columns, where they are not ours."""
    found = {}
    for name, written in part.units.items():
        ours = part.unit_of(name, kind.column(name).unit)
        if written != ours and (turned := exact_conversion(written, ours)):
            found[name] = Unit(written, *turned)
    return found


def full_columns(table: pa.Table, names: Sequence[str]) -> list[str]:
    """Those of the columns that are filled in every row, hold no mark that stands between cells where they are joined, and end in no blank."""

    def marked(column: pa.ChunkedArray) -> bool:
        if column.type not in (pa.string(), TEXTS):
            return False
        texts = column.combine_chunks().dictionary if column.type == TEXTS else column.unique()
        odd = [pc.match_substring(texts, m) for m in MARKS] + [pc.ends_with(texts, " "), pc.equal(texts, "")]
        return any(pc.any(o).as_py() for o in odd)

    return [n for n in names if not table.column(n).null_count and not marked(table.column(n))]


def said_once(table: pa.Table, names: Sequence[str]) -> tuple[pa.Table, list[str]]:
    """The table with `said.<column>` for those of the columns that hold few different values, and which these are: each
    value as a content of all of the columns says it, made once."""
    found = []
    for name in names:
        cells = table.column(name).combine_chunks()
        if cells.type != TEXTS:
            if not _said_alike(cells):
                continue
            cells = cells.dictionary_encode()
            if len(cells.dictionary) * FEW > len(cells):
                continue
        said = pc.binary_join_element_wise(beginning(name, names), cells.dictionary.cast(pa.string()), "")
        table = table.append_column(f"said.{name}", pa.DictionaryArray.from_arrays(cells.indices, said))
        found.append(name)
    return table, found


def _said_alike(cells: pa.Array) -> bool:
    """Whether these are the same texts to Arrow as to DuckDB, in whose words all contents are: it writes small numbers of
    more than six places, and days before our era, in another way."""
    sort = cells.type
    if pa.types.is_date(sort):
        return (pc.min(cells.cast(pa.int32())).as_py() or 0) >= FIRST_DAY
    return bool(pa.types.is_integer(sort) or (pa.types.is_decimal(sort) and sort.scale <= 6))


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
