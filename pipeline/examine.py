"""One drop, from its kept bytes to staged parts: read, map, check. Joins intake and check for `run.py`."""

import csv
from collections.abc import Mapping as MappingLike
from pathlib import Path

import duckdb
import pyarrow as pa

from pipeline.check.shape import check_shape
from pipeline.errors import BadUsage
from pipeline.faults import Fault
from pipeline.intake.cast import cast_faults, cast_sql, headings_of
from pipeline.intake.mapping import Mapping, Match, PartMap, find_match, zones
from pipeline.intake.read import Sheet, Tally, open_sheets, rows, trimmed
from pipeline.ledger.entry import SheetRead
from pipeline.ledger.identity import content_sql, identity_sql, key_sql
from pipeline.ledger.staging import PART_COLUMNS, Staged
from pipeline.world import is_worlds
from schemas.kinds import Kind


def examine(path: Path, staged: Staged, mapping: Mapping, kinds: MappingLike[str, Kind], zone: str) -> Staged:
    """Read the kept bytes at `path` into `staged`. Whatever is wrong with them is staged as faults, never raised."""
    if zone not in zones():
        raise BadUsage(
            f'programme.toml, [programme]: `timezone` is {zone!r}; the name of a zone such as "Europe/Lisbon" is wanted.'
        )
    try:
        for sheet in open_sheets(path, staged.name):
            if sheet.unreadable:
                staged.unreadable = f"The file cannot be read: {sheet.unreadable}."
                continue
            _read_sheet(sheet, staged, mapping, kinds, zone)
    except (csv.Error, UnicodeError, pa.ArrowInvalid, duckdb.Error) as e:
        if is_worlds(e):
            raise
        _forget(staged)
        staged.unreadable = f"The file cannot be read to its end: {e}."
    except OSError as e:
        if e.errno is not None:  # the disk's fault; without a number it is a library's word for a damaged file
            raise
        _forget(staged)
        staged.unreadable = f"The file cannot be read to its end: {e}."
    return staged.close()


def _forget(staged: Staged) -> None:
    """A file that breaks off in the middle yields nothing: half a file must not look like a whole one."""
    staged.close()
    for made in staged.folder.glob("*.parquet"):
        made.unlink()
    staged.kinds.clear()
    staged.sheets.clear()
    staged.lines = staged.furniture = staged.blank = staged.records = 0


def _read_sheet(sheet: Sheet, staged: Staged, mapping: Mapping, kinds: MappingLike[str, Kind], zone: str) -> None:
    match = find_match(mapping, Path(staged.name).name, sheet.head, kinds)
    header_row = match.header_row if match else _first_filled(sheet)
    header = list(match.header) if match else _unknown_header(sheet, header_row)
    staged.sheets.append(
        SheetRead(sheet.name, 0 if sheet.native else header_row, tuple(header), sheet.encoding, sheet.delimiter)
    )
    tally = Tally()
    with duckdb.connect(config={"autoinstall_known_extensions": "false", "TimeZone": "UTC"}) as con:
        for table in rows(sheet, header_row, len(header), tally, staged.folder):
            staged.write_records(sheet.name, table, len(header))
            if match is None or match.twice:
                _hold_unmapped(table, staged, sheet.name, match.twice if match else "")
                continue
            _read_parts(con, table, sheet, match, staged, kinds, zone, set(tally.too_long))
    staged.lines += tally.lines
    staged.furniture += tally.furniture
    staged.blank += tally.blank
    staged.records += tally.records


def _first_filled(sheet: Sheet) -> int:
    """Row number of the first row with text: taken for the headings when no mapping says better."""
    return next((n for n, r in enumerate(sheet.head, 1) if any(c.strip() for c in r)), 1)


def _unknown_header(sheet: Sheet, header_row: int) -> list[str]:
    """The row taken for the headings, as wide as the widest row near the top: a title must not hide cells."""
    found = [c.strip() for c in sheet.head[header_row - 1]]
    return found + [""] * (max(map(len, sheet.head)) - len(found))


NO_MAPPING = ("no mapping", "", "headings that the partner's mapping or our own forms know",
              "Tell the programme: this sheet is of a new sort. It will be taken in once its headings are mapped.")  # fmt: skip
TWICE = ("Two columns have the heading “{heading}”.", "each heading once",
         "Rename or delete the column that is not meant, and hand the sheet in again.")  # fmt: skip


def _hold_unmapped(table: pa.Table, staged: Staged, sheet: str, twice: str) -> None:
    """Hold every row, since nobody can tell what its cells are. twice: the heading that stands over two columns."""
    numbers = table.column("row").to_pylist()
    staged.write_unmapped(sheet, numbers)
    told = ("heading twice", *(text.replace("{heading}", twice) for text in TWICE)) if twice else NO_MAPPING
    staged.write_faults(Fault(sheet, n, 1, "", "", "", *told) for n in numbers)


def _read_parts(
    con: duckdb.DuckDBPyConnection, table: pa.Table, sheet: Sheet, match: Match, staged: Staged,
    kinds: MappingLike[str, Kind], zone: str, too_long: set[int],
) -> None:  # fmt: skip
    con.register("cells", trimmed(table))
    silent = set(table.column("row").to_pylist()) if all(p.only_if for p in match.sheet.parts) else set()
    for part_no, part in enumerate(match.sheet.parts, 1):
        kind = kinds[part.kind]
        typed = con.sql(cast_sql(kind, match.sheet, part, match.header, sheet.native, zone)).to_arrow_table()
        if typed.num_rows:
            silent -= set(typed.column("row").to_pylist()) if silent else set()
            _read_part(con, typed, sheet, match, part, part_no, staged, kind, too_long)
    con.unregister("cells")
    _hold_silent(sorted(silent), staged, sheet.name, [p.only_if for p in match.sheet.parts])


def _hold_silent(rows: list[int], staged: Staged, sheet: str, asked: list[str]) -> None:
    """A row with something in it that yields nothing would be lost without a word."""
    if rows:
        staged.write_unmapped(sheet, rows)
        wanted = "something in " + " or ".join(f"“{heading}”" for heading in dict.fromkeys(asked))
        advice = "If the row tells of something, fill one of these cells; if it is a note or a sum, take it out of the table."
        staged.write_faults(Fault(sheet, n, 1, "", "", "", "says nothing", "", wanted, advice) for n in rows)


def _read_part(
    con: duckdb.DuckDBPyConnection, typed: pa.Table, sheet: Sheet, match: Match, part: PartMap, part_no: int,
    staged: Staged, kind: Kind, too_long: set[int],
) -> None:  # fmt: skip
    faults = cast_faults(con, typed, kind, part, sheet.name, part_no, match.sheet.decimal)
    uncast = {(f.row, f.column) for f in faults}
    faults += check_shape(typed, kind, headings_of(kind, part), sheet.name, part_no, uncast, part.codes)
    if too_long:
        faults += _too_long(typed, too_long, sheet, match, kind, part_no)
    staged.write_faults(faults)
    con.register("typed", typed)
    con.register("bad", pa.table({"row": pa.array(sorted({f.row for f in faults}), pa.int64())}))
    filled = [c.name for c in kind.columns if typed.column(c.name).null_count < typed.num_rows]
    key, content = key_sql(kind), content_sql(filled)
    owner = "'" + staged.partner.replace("'", "''") + "'"
    own = ", ".join(f'"{c.name}"' for c in kind.columns)
    keyed = con.sql(
        f"""select *, {identity_sql(kind.name, kind.shared, owner, "key")} as identity from (
                select t.row, b.row is not null as faulty, {key} as key, {content} as content, {own}
                from typed t left join bad b on b.row = t.row) order by row"""
    ).to_arrow_table()
    con.unregister("typed")
    con.unregister("bad")
    con.register("keyed", keyed)
    place = f"$sheet as sheet, row, cast({part_no} as int) as part"
    told = con.sql(
        f"select {place}, '{kind.name}' as kind, case when faulty then 'faulty' else 'entered' end as fate, "
        "identity, key, content from keyed order by row",
        params={"sheet": sheet.name},
    ).to_arrow_table()
    staged.write("parts", told.cast(PART_COLUMNS))
    good = con.sql(
        f"select {place}, identity, content, key, {own} from keyed where not faulty order by row",
        params={"sheet": sheet.name},
    ).to_arrow_table()
    staged.write_kind(kind.name, kind.version, good)
    con.unregister("keyed")


def _too_long(typed: pa.Table, too_long: set[int], sheet: Sheet, match: Match, kind: Kind, part_no: int) -> list[Fault]:
    """Rows with more filled cells than there are headings: something moved sideways, so no cell can be trusted."""
    return [
        Fault(sheet.name, row, part_no, kind.name, "", "", "row too long", "", f"{len(match.header)} cells, as there are headings",
              "Look for a delimiter inside a text, such as a decimal comma, and put that text in quotation marks.")
        for row in typed.column("row").to_pylist() if row in too_long
    ]  # fmt: skip
