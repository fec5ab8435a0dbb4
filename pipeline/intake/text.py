"""Text files, row by row with Python's csv module: reads anything that has rows, slowly."""

import codecs
from collections.abc import Iterator
from pathlib import Path

import pyarrow as pa

from pipeline.intake.dialect import Dialect, Lines, find_dialect, records, told
from pipeline.intake.encoding import NAMES, find_encoding, known_encoding, marked
from pipeline.intake.limits import LONGEST_LINE, MOST_BYTES, batch_rows, check_rows, check_size, check_width
from pipeline.intake.sheet import HEAD, Sheet, Spoiled, Tally, Unreadable
from pipeline.intake.stated import NOTHING, Stated

# what is certainly no table, whatever its name says
NO_TABLES = {
    b"%PDF": "a PDF", b"\x89PNG": "a picture", b"\xff\xd8\xff": "a picture", b"GIF8": "a picture",
    b"\x1f\x8b": "packed (gzip)", b"7z\xbc\xaf": "packed (7z)", b"Rar!": "packed (rar)", b"{\\rtf": "a text document",
    b"SQLite format 3": "a database", b"<!DOC": "a web page or XML", b"<html": "a web page", b"<?xml": "XML", b"<HTML": "a web page",
    b"<table": "a web page",
}  # fmt: skip


def open_text(path: Path, stated: Stated = NOTHING) -> Sheet:
    """The one sheet of a text file. Unreadable when it is none. stated: what the mapping says holds, the rest is found."""
    check_size(path, MOST_BYTES, "hand it in as several files")
    with path.open("rb") as f:
        start = f.read(64)
    bare = start.removeprefix(codecs.BOM_UTF8)
    if not bare:
        raise Unreadable("the file is empty")
    for magic, what in NO_TABLES.items():
        if bare.startswith(magic):
            raise Unreadable(f"it is {what}, not a table; save the table as CSV and hand that in")
    said = "the mapping says so"
    if stated.encoding and not marked(start):
        encoding = known_encoding(path, stated.encoding, said)
    else:
        encoding = find_encoding(path)
    found = find_dialect(_lines_of(path, encoding.name), stated.delimiter, stated.quote)
    if not any(c.strip() for r in found.head for c in r):
        few = len(found.head) < HEAD
        raise Unreadable("the file is empty" if few else f"its first {HEAD} rows are blank, so it has no headings")
    check_width(max(map(len, found.head)))
    d = found.dialect
    why = (
        f"Encoding {NAMES.get(encoding.name, encoding.name)}: {encoding.why}.",
        f"Cells parted by {told(d.delimiter)}: {found.why}.",
    )
    return Sheet(
        "",
        path,
        found.head,
        encoding.name,
        d.delimiter,
        quote=d.quote,
        escape=d.escape,
        why=why,
        doubtful=encoding.doubtful,
        lossy=encoding.lossy,
        guessed=encoding.guessed,
    )


def _lines_of(path: Path, encoding: str) -> Lines:
    """The lines of a file as often as asked, without zero bytes. Unreadable at a line that would fill the memory."""

    def lines() -> Iterator[str]:
        with path.open(encoding=encoding, errors="replace", newline="") as f:
            while line := f.readline(LONGEST_LINE):
                if len(line) == LONGEST_LINE and line[-1] not in "\r\n":
                    raise Unreadable(
                        f"a line is longer than {LONGEST_LINE:,} characters; it has no line ends that we know"
                    )
                yield line.replace("\0", "")

    return lines


def rows_plain(sheet: Sheet, header_row: int, width: int, tally: Tally) -> Iterator[pa.Table]:
    """Rows as tables of `row`, c0 .. c{width-1}; ragged ones are noted in the tally. Blank rows still stand in it."""
    batch: list[list[str]] = []
    numbers: list[int] = []
    dialect = Dialect(sheet.delimiter, sheet.quote, sheet.escape)
    most = batch_rows(width)
    for number, record in enumerate(records(_lines_of(sheet.path, sheet.encoding)(), dialect), 1):
        if number <= header_row:
            continue
        check_rows(number)
        if any(c.strip() for c in record[width:]):
            tally.too_long.append(number)
        elif len(record) < width and record and len(sheet.delimiter) > 1:
            tally.spoiled.append(_moved(number, width))
        batch.append(record[:width] + [""] * (width - len(record)))
        numbers.append(number)
        if len(batch) == most:
            yield table_of(numbers, batch, width)
            batch, numbers = [], []
    if batch:
        yield table_of(numbers, batch, width)


def _moved(row: int, width: int) -> Spoiled:
    """Where spaces part cells a blank cell cannot be seen: nobody knows which one is missing."""
    wanted = f"{width} cells, as there are headings"
    return Spoiled(row, None, "row too short", "", wanted, "Write a blank cell as - or NA, or save the table as CSV.")


def table_of(numbers: list[int], batch: list[list[str]], width: int) -> pa.Table:
    """Records as a table of `row` and c0 .. c{width-1}."""
    columns = {f"c{i}": pa.array([r[i] for r in batch], pa.string()) for i in range(width)}
    return pa.table({"row": pa.array(numbers, pa.int64()), **columns})
