"""The quick reader: DuckDB reads a tidy text file with an explicit dialect, or declines. Its twin is `text.rows_plain`.

Tidy: no blank line, no ragged row, no line break inside the head, no space beside a quotation mark. DuckDB leaves
out blank lines, so rows below one would be misnumbered; the plain reader takes such files.
"""

import re
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import duckdb
import numpy as np
import pyarrow as pa

from pipeline.engine import connection
from pipeline.intake.limits import LONGEST_LINE, batch_rows, check_rows
from pipeline.intake.sheet import Sheet

QUICK_COLUMNS = 1_000  # DuckDB keeps blocks for every column: beyond that it needs more memory than the rows do
FEED = ord("\n")
BLANK_LINE = re.compile(rb"\n[ \t\r]*\n")
LONE_RETURN = re.compile(rb"\r(?!\n|\Z)")


@cache
def _spaced_quote(delimiter: str) -> re.Pattern[bytes]:
    """A quotation mark with white space between it and its delimiter: the two readers differ on it."""
    d = re.escape(delimiter).encode()
    return re.compile(rb'"(?:(?<=[\n' + d + rb'\t ][ \t]")|[ \t]+(?:[\r\n' + d + rb"\t]|\Z))")


def rows_quick(sheet: Sheet, header_row: int, width: int, scratch: Path) -> Iterator[pa.Table] | None:
    """Rows as tables of `row`, c0 .. c{width-1} (null where blank), or None when the file is not tidy enough.

    scratch: a folder for the copy in UTF-8 that DuckDB reads.
    """
    if width > QUICK_COLUMNS:
        return None
    odd = sheet.quote != '"' or sheet.escape or len(sheet.delimiter) > 1 or not sheet.delimiter.isascii()
    if odd or any("\n" in c or "\r" in c for r in sheet.head[:header_row] for c in r):
        return None
    tidy, lines = _tidied(sheet, scratch)
    if tidy is None:
        return None
    con = connection()
    columns = ", ".join(f"'c{i}': 'VARCHAR'" for i in range(width))
    query = f"""
        select * from read_csv($path, auto_detect=false, header=false, skip=$skip, all_varchar=true,
            delim=$delim, quote='"', escape='"', strict_mode=true, null_padding=false,
            columns={{{columns}}}, max_line_size={LONGEST_LINE})"""
    given = {"path": str(tidy), "skip": header_row, "delim": sheet.delimiter}
    try:  # a whole pass first: a ragged row is only met when it is reached
        [(found,)] = con.execute(f"select count(*) from ({query})", given).fetchall()
    except duckdb.Error:
        found = -1
    if found < 0 or lines not in (None, header_row + found):
        con.close()
        return None
    check_rows(found)
    return _numbered(con, query, given, header_row, batch_rows(width))


def _numbered(
    con: duckdb.DuckDBPyConnection, query: str, given: dict[str, object], header_row: int, most: int
) -> Iterator[pa.Table]:
    at = header_row
    with con:
        for batch in con.sql(query, params=given).to_arrow_reader(most):
            numbers = pa.array(np.arange(at + 1, at + 1 + batch.num_rows))
            at += batch.num_rows
            yield pa.Table.from_batches([batch]).add_column(0, "row", numbers)


def _tidied(sheet: Sheet, scratch: Path) -> tuple[Path | None, int | None]:
    """The file in UTF-8 (the file itself if it is that already) and its rows, where no quotation mark can hide any.

    None instead of the file if the two readers might differ on it.
    """
    plain = sheet.encoding == "utf-8" and not sheet.lossy
    out = sheet.path if plain else scratch / "tidied.csv"
    if not plain:
        with (
            sheet.path.open(encoding=sheet.encoding, errors="replace", newline="") as src,
            out.open("w", encoding="utf-8", newline="") as dst,
        ):
            while text := src.read(1 << 20):
                dst.write(text)
    tail, returns, feeds, quoted = b"\n", 0, 0, False
    untidy = ((b"\n", BLANK_LINE), (b"\r", LONE_RETURN), (b'"', _spaced_quote(sheet.delimiter)))
    with out.open("rb") as f:
        while chunk := f.read(1 << 22):
            seen = tail + chunk
            if b"\0" in chunk or any(mark in seen and p.search(seen) for mark, p in untidy):
                return None, None
            tail = seen[seen.rfind(b"\n") :] if b"\n" in seen else seen[-4096:]
            returns, quoted = returns + chunk.count(b"\r"), quoted or b'"' in chunk
            feeds += int(np.count_nonzero(np.frombuffer(chunk, np.uint8) == FEED))  # `count` takes six times as long
    if 0 < returns < feeds or tail.endswith(b"\r"):
        return None, None  # line ends of two systems: DuckDB may lose every row of such a file
    return out, None if quoted else feeds + (tail != b"\n")
