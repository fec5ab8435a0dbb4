"""The quick reader: Arrow reads a tidy text file with an explicit dialect, or declines. Its twin is `text.rows_plain`.

Tidy: no blank line, no very long line, no line break inside a cell, no space beside a quotation mark. A ragged row is only met when it is
reached: the plain reader goes on from there.
"""

import re
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import duckdb
import numpy as np
import pyarrow as pa
from pyarrow import csv

from pipeline.engine import connection
from pipeline.intake.limits import LONGEST_LINE, batch_rows, check_rows
from pipeline.intake.sheet import Sheet

QUICK_COLUMNS = 1_000  # beyond that a few rows fill a block
# Bytes parsed at once, some 58,000 rows of a survey: every batch costs as much planning as a tenth of its rows.
BLOCK = 5 << 20
STRETCH = 1 << 19  # bytes looked through at once; a line that fills one is very long
FEED, SPACE = ord("\n"), ord(" ")
BLANK_LINE = re.compile(rb"\n[ \t\r]*\n")
LONE_RETURN = re.compile(rb"\r(?!\n|\Z)")


@cache
def _spaced_quote(delimiter: str) -> re.Pattern[bytes]:
    """A quotation mark with white space between it and its delimiter: the two readers differ on it."""
    d = re.escape(delimiter).encode()
    return re.compile(rb'"(?:(?<=[\n' + d + rb'\t ][ \t]")|[ \t]+(?:[\r\n' + d + rb"\t]|\Z))")


class Untidy(Exception):
    """A row was met that only the plain reader reads; all rows given before it are as that reader gives them."""


def rows_quick(sheet: Sheet, header_row: int, width: int, scratch: Path) -> Iterator[pa.Table] | None:
    """Rows as tables of `row`, c0 .. c{width-1}, or None when the file is not tidy enough. Untidy where a row is ragged.

    scratch: a folder for the copy in UTF-8 that is read.
    """
    if width > QUICK_COLUMNS:
        return None
    odd = sheet.quote != '"' or sheet.escape or len(sheet.delimiter) > 1 or not sheet.delimiter.isascii()
    if odd or any("\n" in c or "\r" in c for r in sheet.head[:header_row] for c in r):
        return None
    tidy, lines = _tidied(sheet, scratch)
    if tidy is None or (lines and header_row + _well_quoted(tidy, sheet.delimiter, header_row, width) != lines):
        return None
    return _numbered(tidy, sheet.delimiter, header_row, width)


def _well_quoted(path: Path, delimiter: str, header_row: int, width: int) -> int:
    """How many rows it has, if every quotation mark is closed where its cell ends, which Arrow does not ask; else -1."""
    columns = ", ".join(f"'c{i}': 'VARCHAR'" for i in range(width))
    query = f"""
        select count(*) from read_csv($path, auto_detect=false, header=false, skip=$skip, all_varchar=true,
            delim=$delim, quote='"', escape='"', strict_mode=true, null_padding=false,
            columns={{{columns}}}, max_line_size={LONGEST_LINE})"""
    with connection() as con:
        try:
            [(found,)] = con.execute(query, {"path": str(path), "skip": header_row, "delim": delimiter}).fetchall()
        except duckdb.Error:
            return -1
    return int(found)


def _numbered(path: Path, delimiter: str, header_row: int, width: int) -> Iterator[pa.Table]:
    names, most, at = [f"c{i}" for i in range(width)], batch_rows(width), header_row
    try:
        with csv.open_csv(
            path,
            csv.ReadOptions(use_threads=False, block_size=BLOCK, skip_rows=header_row, column_names=names),
            csv.ParseOptions(delimiter=delimiter, ignore_empty_lines=False),
            csv.ConvertOptions(column_types=dict.fromkeys(names, pa.string()), strings_can_be_null=False),
        ) as batches:
            for batch in batches:
                for start in range(0, batch.num_rows, most):
                    some = pa.Table.from_batches([batch.slice(start, most)])
                    numbers = pa.array(np.arange(at + 1, at + 1 + some.num_rows))
                    at += some.num_rows
                    check_rows(at - header_row)
                    yield some.add_column(0, "row", numbers)
    except pa.ArrowInvalid as e:
        raise Untidy from e


def _tidied(sheet: Sheet, scratch: Path) -> tuple[Path | None, int]:
    """The file in UTF-8 (the file itself if it is that already) and how many lines it has: 0 where no quotation
    mark stands in it, and so every line is a row.

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
    tail, feeds, quoted = b"\n", 0, False
    untidy = ((b"\r", LONE_RETURN), (b'"', _spaced_quote(sheet.delimiter)))
    with out.open("rb") as f:
        while chunk := f.read(STRETCH):
            seen = tail + chunk
            whole = seen.rfind(b"\n") + 1  # what follows is looked at once its line is whole
            if b"\0" in chunk or any(mark in seen and p.search(seen, 0, whole) for mark, p in untidy):
                return None, 0
            codes = np.frombuffer(seen, np.uint8)
            blank = (codes[:-1] == FEED) & (codes[1:] <= SPACE)
            if blank.any() and BLANK_LINE.search(seen):  # which takes five times as long
                return None, 0
            if len(chunk) == STRETCH and b"\n" not in chunk:
                return None, 0  # the plain reader knows how long a line and a cell may be
            tail = seen[seen.rfind(b"\n") :] if b"\n" in seen else seen[-4096:]
            quoted = quoted or b'"' in chunk
            feeds += int(np.count_nonzero(codes[-len(chunk) :] == FEED))  # `count` takes six times as long
    if any(p.search(tail) for _, p in untidy):
        return None, 0
    return out, feeds + (tail != b"\n") if quoted else 0
