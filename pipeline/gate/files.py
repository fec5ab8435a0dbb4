"""A data file of an archive, made ready for the database: UTF-8, known line ends, its first line looked at."""

import codecs
import csv
import io
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from pipeline.gate.descriptor import META, MOST_COLUMNS, Table
from pipeline.gate.opened import CHUNK, GUIDE, OWN, CannotRead, Opened
from pipeline.gate.rule import Effect, Hits, Rule
from pipeline.gate.terms import parted
from pipeline.plural import n_of

LONGEST_LINE = 4 << 20

_REFUSED = (Effect.REFUSES, Effect.REFUSES)
NO_FILE = Rule("file missing", "every file that meta.xml names", *_REFUSED, GUIDE)
NOT_NAMED = Rule("file that nobody names", "data in files that meta.xml names", Effect.LOWERS, Effect.LOWERS, GUIDE)
FILE_DAMAGED = Rule("file damaged", "files that unpack whole", *_REFUSED, GUIDE)
OTHER_ENCODING = Rule("bytes of another encoding", "the encoding that meta.xml tells", *_REFUSED, GUIDE)
NO_ROWS = Rule("no rows", "at least one row in the core", *_REFUSED, "common practice, no source")
FIRST_LINE = Rule("first line unreadable", "cells that the marks of meta.xml part", *_REFUSED, GUIDE)
BEYOND = Rule("index beyond the columns", "indices within the columns of the file", *_REFUSED, GUIDE)
TOO_WIDE = Rule("too many columns", f"at most {MOST_COLUMNS:,} columns", *_REFUSED, OWN)
HEADINGS_AS_DATA = Rule(
    "headings read as data", 'ignoreHeaderLines="1", since the first line is headings', *_REFUSED, GUIDE
)
HEADING_DISAGREES = Rule(
    "heading of another term",
    "each column mapped to the term its heading names",
    *_REFUSED,
    "common practice, no source",
)


@dataclass(frozen=True)
class Ready:
    """A copy of one data file that the database can read.

    line_end is what ends most lines; columns is how many cells its first line has.
    """

    name: str
    path: Path
    line_end: str
    columns: int


def make_ready(archive: Opened, table: Table, name: str, to: Path, hits: Hits) -> Ready | None:
    """Copy a data file as UTF-8 to `to`; None when its rows cannot be read, with the reason among the hits."""
    try:
        with archive.reading(name) as f, to.open("wb") as out:
            for text in _decoded(iter(lambda: f.read(CHUNK), b""), table.encoding):
                out.write(text.encode())
    except KeyError:
        hits.add(NO_FILE, META, name)
        return None
    except CannotRead as e:
        hits.add(FILE_DAMAGED, name, str(e))
        return None
    except UnicodeError as e:
        hits.add(OTHER_ENCODING, name, f"{e} (told: {table.encoding})")
        return None
    with to.open("rb") as f:
        start = f.read(LONGEST_LINE).decode(errors="ignore")
    line_end = next((e for e in ("\r\n", "\n", "\r") if e in start), "\n")
    try:
        cells = _first_line(start, table)
    except csv.Error as e:
        hits.add(FIRST_LINE, name, str(e), 1)
        return None
    if not cells:
        if table.is_core:
            hits.add(NO_ROWS, name)
        return None
    if len(cells) > MOST_COLUMNS:
        hits.add(TOO_WIDE, name, n_of(len(cells), "column"), 1)
        return None
    if table.most_index >= len(cells):
        hits.add(BEYOND, name, f"index {table.most_index}, of {len(cells)} columns counted from 0", 1)
        return None
    if not _headings_fit(cells, table, name, hits):
        return None
    return Ready(name, to, line_end, len(cells))


def _decoded(chunks: Iterator[bytes], encoding: str) -> Iterator[str]:
    """The text of these bytes without a mark at its start; UnicodeError with the number of the byte at fault."""
    reader = codecs.getincrementaldecoder(encoding)("strict")
    at, first = 0, True
    for chunk in chunks:
        try:
            text = reader.decode(chunk)
        except UnicodeDecodeError as e:
            raise UnicodeError(f"byte {at + e.start:,} is {e.object[e.start : e.start + 1].hex()}") from None
        yield text.removeprefix("\ufeff") if first else text
        at, first = at + len(chunk), first and not text
    try:
        yield reader.decode(b"", True)
    except UnicodeDecodeError:
        raise UnicodeError("the last character is cut off") from None


def _first_line(start: str, table: Table) -> list[str]:
    lines = io.StringIO(start, newline="")
    if table.quote:
        reader = csv.reader(lines, delimiter=table.delimiter, quotechar=table.quote)
    else:
        reader = csv.reader(lines, delimiter=table.delimiter, quoting=csv.QUOTE_NONE)
    return next((cells for cells in reader if cells), [])


def _headings_fit(cells: list[str], table: Table, name: str, hits: Hits) -> bool:
    """Whether the first line's words and the mapping agree."""
    names = {f.index: parted(f.term)[1] for f in table.fields if f.index is not None}
    said = {i: cells[i].strip() for i in names}
    if not table.skip:
        as_data = sum(said[i].lower() == told.lower() for i, told in names.items()) * 2 > len(names)
        if as_data:
            hits.add(HEADINGS_AS_DATA, name, ", ".join(said.values())[:80], 1)
        return not as_data
    others = {i: told for i, told in names.items() if said[i] != told and said[i] in names.values()}
    for i, told in others.items():
        hits.add(HEADING_DISAGREES, name, f"column {i} is headed {said[i]} and mapped to {told}", 1)
    return not others
