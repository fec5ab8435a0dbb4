"""Any file -> its sheets as text, with the row numbers that the partner's own program shows.

Row 1 is the first row of the sheet, title lines and blank rows counted, a cell with line breaks counted as
one row: what a spreadsheet shows. Two readers give the same rows: `rows_quick` lets DuckDB read a tidy file;
`rows_plain` reads anything, slowly, and is what the quick one is tested against.
"""

import codecs
import csv
import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

import duckdb
import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.parquet as pq

BATCH = 100_000
HEAD = 40  # rows read to find delimiter and headings
DELIMITERS = ",;\t"
BLANK_LINE = re.compile(rb"\n[ \t\r]*\n")
LONE_RETURN = re.compile(rb"\r(?!\n|\Z)")
# a quotation mark with white space between it and its delimiter: the two readers differ on it
SPACED_QUOTE = re.compile(rb'"(?:(?<=[\n,;\t ][ \t]")|[ \t]+(?:[\r\n,;\t]|\Z))')


@dataclass(frozen=True)
class Sheet:
    """A sheet before its rows are read.

    head      its first rows as text, to find the headings in.
    native    whether cells come typed (Parquet): then numbers and dates are written our way whatever the mapping says.
    """

    name: str
    path: Path
    head: list[list[str]]
    encoding: str = ""
    delimiter: str = ""
    native: bool = False
    unreadable: str = ""


@dataclass
class Tally:
    """What became of a sheet's lines: lines = furniture + blank + records."""

    furniture: int = 0
    blank: int = 0
    records: int = 0
    too_long: list[int] = field(default_factory=list)

    @property
    def lines(self) -> int:
        """All of them."""
        return self.furniture + self.blank + self.records


def open_sheets(path: Path, name: str) -> list[Sheet]:
    """The sheets of a file; a file that cannot be read comes back as one sheet that says why."""
    try:
        with path.open("rb") as f:
            start = f.read(4)
        if start == b"PAR1":
            return [_open_parquet(path)]
        if start[:2] == b"PK" or start == b"\xd0\xcf\x11\xe0":
            raise ValueError("it is a workbook; save each sheet as CSV and hand that in")
        return [_open_text(path)]
    except (ValueError, OSError, csv.Error, pa.ArrowInvalid) as e:
        if isinstance(e, OSError) and e.errno:  # of the disk, not of what is written on it
            raise
        return [Sheet(name, path, [], unreadable=str(e) or type(e).__name__)]


def rows(sheet: Sheet, header_row: int, width: int, tally: Tally, scratch: Path) -> Iterator[pa.Table]:
    """The records below the headings, in order, as tables of `row` (int64) and c0 .. c{width-1} (text, never null).

    Counts every line into `tally`. Blank rows are counted and left out. A row with more filled cells than there
    are headings is counted as a record, listed in tally.too_long, and comes with its first `width` cells.
    scratch: a folder for the tidied copy that DuckDB reads.
    """
    tally.furniture += header_row
    if sheet.native:
        yield from _rows_parquet(sheet, width, tally)
        return
    quick = rows_quick(sheet, header_row, width, scratch)
    source = quick if quick is not None else rows_plain(sheet, header_row, width, tally)
    for table in source:
        yield from _without_blank(table, width, tally)


# --- text ---------------------------------------------------------------------------------------------------


def _encoding(path: Path) -> str:
    """UTF-8 when every byte agrees with it, Windows-1252 otherwise; a byte-order mark settles it at once."""
    with path.open("rb") as f:
        start = f.read(4)
        if start.startswith(codecs.BOM_UTF8):
            return "utf-8-sig"
        if start.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
            return "utf-16"
        f.seek(0)
        decoder = codecs.getincrementaldecoder("utf-8")()
        try:
            while chunk := f.read(1 << 20):
                decoder.decode(chunk)
            decoder.decode(b"", final=True)
        except UnicodeDecodeError:
            return "cp1252"
    return "utf-8"


def _records(path: Path, encoding: str, delimiter: str) -> Iterator[list[str]]:
    """Every record of a text file, blank lines as empty lists. Undefined bytes of Windows-1252 become U+FFFD."""
    csv.field_size_limit(1 << 20)
    done = 0
    with path.open(encoding=encoding, errors="replace", newline="") as f:
        try:
            for record in csv.reader(_without_nul(f), delimiter=delimiter, strict=True):
                yield record
                done += 1
        except csv.Error as e:
            why = f"in row {done + 1} a quotation mark is opened and never closed, or closed too early"
            raise csv.Error(why) from e


def _without_nul(lines: Iterator[str]) -> Iterator[str]:
    return (line.replace("\0", "") for line in lines)


def _open_text(path: Path) -> Sheet:
    if path.stat().st_size == 0:
        raise ValueError("the file is empty")
    encoding = _encoding(path)
    best: tuple[float, str, list[list[str]]] | None = None
    torn = ""
    for delimiter in DELIMITERS:
        head: list[list[str]] = []
        try:
            for record in _records(path, encoding, delimiter):
                head.append(record)
                if len(head) == HEAD:
                    break
        except csv.Error as e:
            torn = torn or str(e)
            continue
        score = _evenness(head)
        if best is None or score > best[0]:
            best = (score, delimiter, head)
    if best is None or (torn and best[0] == 0):
        raise ValueError(torn)
    if not any(c.strip() for r in best[2] for c in r):
        few = len(best[2]) < HEAD
        raise ValueError("the file is empty" if few else f"its first {HEAD} rows are blank, so it has no headings")
    return Sheet("", path, best[2], encoding, best[1])


def _evenness(head: list[list[str]]) -> float:
    """How much a delimiter makes a table: the rows that share the commonest width, when that is over one cell."""
    widths = [len(r) for r in head if any(c.strip() for c in r)]
    many = [w for w in widths if w > 1]
    if not many:
        return 0.0
    common = max(sorted(set(many)), key=lambda w: (many.count(w), w))
    return many.count(common) + common / 1000


def rows_plain(sheet: Sheet, header_row: int, width: int, tally: Tally) -> Iterator[pa.Table]:
    """Rows by Python's csv module: reads anything that has rows, notes ragged ones. Blank rows still stand in it."""
    batch: list[list[str]] = []
    numbers: list[int] = []
    for number, record in enumerate(_records(sheet.path, sheet.encoding, sheet.delimiter), 1):
        if number <= header_row:
            continue
        if any(c.strip() for c in record[width:]):
            tally.too_long.append(number)
        batch.append(record[:width] + [""] * (width - len(record)))
        numbers.append(number)
        if len(batch) == BATCH:
            yield _table(numbers, batch, width)
            batch, numbers = [], []
    if batch:
        yield _table(numbers, batch, width)


def rows_quick(sheet: Sheet, header_row: int, width: int, scratch: Path) -> Iterator[pa.Table] | None:
    """Rows by DuckDB with an explicit dialect, or None when the file is not tidy enough to number its rows.

    Tidy: no blank line, no ragged row, no line break inside the head, no space beside a quotation mark. DuckDB
    leaves out blank lines, so rows below one would be misnumbered; the plain reader takes such files.
    """
    if any("\n" in c or "\r" in c for r in sheet.head[:header_row] for c in r):
        return None
    tidy, lines = _tidied(sheet, scratch)
    if tidy is None:
        return None
    con = duckdb.connect(config={"autoinstall_known_extensions": "false", "preserve_insertion_order": "true"})
    columns = ", ".join(f"'c{i}': 'VARCHAR'" for i in range(width))
    query = f"""
        select * from read_csv($path, auto_detect=false, header=false, skip=$skip, all_varchar=true,
            delim=$delim, quote='"', escape='"', strict_mode=true, null_padding=false,
            columns={{{columns}}}, max_line_size=4194304)"""
    given = {"path": str(tidy), "skip": header_row, "delim": sheet.delimiter}
    try:  # a whole pass first: a ragged row is only met when it is reached
        [(found,)] = con.execute(f"select count(*) from ({query})", given).fetchall()
    except duckdb.Error:
        found = -1
    if found < 0 or lines not in (None, header_row + found):
        con.close()
        return None
    return _numbered(con, query, given, header_row)


def _numbered(
    con: duckdb.DuckDBPyConnection, query: str, given: dict[str, object], header_row: int
) -> Iterator[pa.Table]:
    at = header_row
    with con:
        for batch in con.sql(query, params=given).to_arrow_reader(BATCH):
            numbers = pa.array(range(at + 1, at + 1 + batch.num_rows), pa.int64())
            at += batch.num_rows
            yield pa.Table.from_batches([batch]).add_column(0, "row", numbers)


def _tidied(sheet: Sheet, scratch: Path) -> tuple[Path | None, int | None]:
    """The file in UTF-8 (the file itself if it is that already) and its rows, where no quotation mark can hide any.

    None instead of the file if the two readers might differ on it.
    """
    plain = sheet.encoding == "utf-8"
    out = sheet.path if plain else scratch / "tidied.csv"
    if not plain:
        with (
            sheet.path.open(encoding=sheet.encoding, errors="replace", newline="") as src,
            out.open("w", encoding="utf-8", newline="") as dst,
        ):
            while text := src.read(1 << 20):
                dst.write(text)
    tail, returns, feeds, quoted = b"\n", 0, 0, False
    with out.open("rb") as f:
        while chunk := f.read(1 << 22):
            seen = tail + chunk
            if b"\0" in chunk or any(p.search(seen) for p in (BLANK_LINE, LONE_RETURN, SPACED_QUOTE)):
                return None, None
            tail = seen[seen.rfind(b"\n") :] if b"\n" in seen else seen[-4096:]
            returns, feeds, quoted = returns + chunk.count(b"\r"), feeds + chunk.count(b"\n"), quoted or b'"' in chunk
    if 0 < returns < feeds or tail.endswith(
        b"\r"
    ):  # line ends of two systems: DuckDB may lose every row of such a file
        return None, None
    return out, None if quoted else feeds + (tail != b"\n")


# --- Parquet ------------------------------------------------------------------------------------------------


def _open_parquet(path: Path) -> Sheet:
    with pq.ParquetFile(path) as f:
        names = [str(n) for n in f.schema_arrow.names]
    if not names:
        raise ValueError("it has no columns")
    return Sheet("", path, [names], native=True)


def _rows_parquet(sheet: Sheet, width: int, tally: Tally) -> Iterator[pa.Table]:
    """Cells as our own text: days as 2025-04-18, instants with their zone, decimals with a point, nulls as blank."""
    tally.furniture = 0  # the headings of a Parquet file are no row: its first record is row 1
    con = duckdb.connect(config={"autoinstall_known_extensions": "false", "TimeZone": "UTC"})
    names = [f"c{i}" for i in range(width)]  # by place: two names may differ in case only
    query = f"select * from read_parquet($path, hive_partitioning=false) as t({', '.join(names)})"
    with con:
        at = 0
        types = con.sql(query, params={"path": str(sheet.path)}).types
        cells = ", ".join(
            f"coalesce(cast({_micros(n, str(t))} as varchar), '') as {n}" for n, t in zip(names, types, strict=True)
        )
        read = con.sql(f"select {cells} from ({query})", params={"path": str(sheet.path)})
        for batch in read.to_arrow_reader(BATCH):
            numbers = pa.array(range(at + 1, at + 1 + batch.num_rows), pa.int64())
            at += batch.num_rows
            table = pa.Table.from_batches([batch]).add_column(0, "row", numbers)
            yield from _without_blank(table, width, tally)


def _micros(column: str, duck_type: str) -> str:
    """A time to the microsecond, as people may write it."""
    return f"cast({column} as timestamp)" if duck_type == "TIMESTAMP_NS" else column


# --- both ---------------------------------------------------------------------------------------------------


def _table(numbers: list[int], batch: list[list[str]], width: int) -> pa.Table:
    columns = {f"c{i}": pa.array([r[i] for r in batch], pa.string()) for i in range(width)}
    return pa.table({"row": pa.array(numbers, pa.int64()), **columns})


def trimmed(table: pa.Table) -> pa.Table:
    """The same rows with white space (no-break spaces too) taken off both ends of every cell."""
    cells = [pc.utf8_trim_whitespace(table.column(i)) for i in range(1, table.num_columns)]
    return pa.table([table.column("row"), *cells], names=table.column_names)


def _without_blank(table: pa.Table, width: int, tally: Tally) -> Iterator[pa.Table]:
    """The table without its blank rows, which are counted; a row filled only beyond the headings is not blank."""
    columns = [table.column(f"c{i}").fill_null("") for i in range(width)]
    filled = pc.is_in(table.column("row"), pa.array(tally.too_long, pa.int64()))
    for column in columns:
        filled = pc.or_(filled, pc.not_equal(pc.utf8_trim_whitespace(column), ""))
    blank = table.num_rows - (pc.sum(filled).as_py() or 0)
    tally.blank += blank
    tally.records += table.num_rows - blank
    named = pa.table({"row": table.column("row"), **{f"c{i}": c for i, c in enumerate(columns)}})
    yield named.filter(filled) if blank else named
