"""What calamine gives as blank though a person sees something: error cells, formulas that were never calculated.

It also says which cells of an OpenDocument sheet are merged or percentages. Runs inside the workbook's own process,
whose memory and time are limited; the XML is gone through piece by piece.
"""

import posixpath
import re
import zipfile
from array import array
from collections.abc import Iterator, Sequence
from typing import IO, Literal
from xml.etree import ElementTree as ET  # memory and time of this process are limited
from xml.parsers import expat

from pipeline.intake.workbook_percents import BUILT_IN, Percents, column_of, packed

Cells = dict[tuple[int, int], str]  # (row from 1, column from 0) -> text
Range = tuple[int, int, int, int]

_HINTS = (b'"e"', b"'e'", b"<f", b":f", b'"error"', b"'error'")  # of an error cell, of a formula
_REFERENCE = re.compile(r"([A-Z]{1,3})(\d{1,7})")
_OFFICE, _TABLE = (
    "{urn:oasis:names:tc:opendocument:xmlns:office:1.0}",
    "{urn:oasis:names:tc:opendocument:xmlns:table:1.0}",
)
_MOST_REPEATED = 16_384


def odd_parts(book: zipfile.ZipFile) -> set[str]:
    """The parts in which there may be an error or a formula, having seen that every part is whole and well-formed.

    ValueError, BadZipFile or ExpatError where one is not: of such, calamine gives half a sheet, or never comes back.
    """
    read = [n for n in book.namelist() if n == "content.xml" or (n.startswith("xl/") and n.endswith((".xml", ".rels")))]
    return {part for part in read if _look_through(book, part)}


def marks_of(
    book: zipfile.ZipFile, sheets: Sequence[str], odd: set[str]
) -> tuple[dict[int, Cells], dict[int, list[Range]], dict[int, Percents]]:
    """By place among `sheets`: cells that would come as blank, and, of OpenDocument only, merged ranges and percentages.

    odd: what `odd_parts` found.
    """
    if "content.xml" in book.namelist():
        with book.open("content.xml") as f:
            return _open_document(f)
    parts = parts_of(book)
    return {n: _excel(book, parts[name]) for n, name in enumerate(sheets) if parts.get(name) in odd}, {}, {}


def parts_of(book: zipfile.ZipFile) -> dict[str, str]:
    """Sheet name -> name of its XML, of an Excel workbook."""
    return dict(_parts(book)) if "xl/workbook.xml" in book.namelist() else {}


def _look_through(book: zipfile.ZipFile, part: str) -> bool:
    parser, tail, found = expat.ParserCreate(), b"", False
    with book.open(part) as f:
        while chunk := f.read(1 << 20):
            parser.Parse(chunk)
            found = found or any(hint in tail + chunk for hint in _HINTS)
            tail = chunk[-64:]
    parser.Parse(b"", True)
    return found


def _parts(book: zipfile.ZipFile) -> Iterator[tuple[str, str]]:
    """(sheet name, name of its XML) of an Excel workbook."""
    with book.open("xl/_rels/workbook.xml.rels") as f:
        targets = {e.get("Id"): e.get("Target", "") for _, e in _elements(f)}
    with book.open("xl/workbook.xml") as f:
        for _, e in _elements(f):
            if _bare(e.tag) == "sheet":
                key = next((v for k, v in e.attrib.items() if _bare(k) == "id"), None)
                target = targets.get(key, "")
                yield e.get("name", ""), posixpath.normpath(posixpath.join("/xl", target)).lstrip("/")


def _elements(f: IO[bytes], *events: Literal["start", "end"]) -> Iterator[tuple[str, ET.Element]]:
    """Elements as they end, or at the events asked for."""
    yield from ET.iterparse(f, events=events or ("end",))  # noqa: S314 - expat refuses entities that multiply; memory and time are limited


def _bare(tag: str) -> str:
    return tag.rpartition("}")[2]


def _excel(book: zipfile.ZipFile, part: str) -> Cells:
    found: Cells = {}
    with book.open(part) as f:
        row = column = 0
        for event, e in _elements(f, "start", "end"):
            tag = _bare(e.tag)
            if event == "start":
                if tag == "row":
                    row, column = int(e.get("r") or row + 1), -1
                continue
            if tag == "c":
                place = _REFERENCE.fullmatch(e.get("r", ""))
                column = column_of(place.group(1)) if place else column + 1
                row = int(place.group(2)) if place else row
                inner = {_bare(x.tag): (x.text or "") for x in e}
                if e.get("t") == "e":
                    found[row, column] = inner.get("v") or "#N/A"
                elif "f" in inner and not inner.get("v") and e.get("t") != "str":
                    found[row, column] = "=" + inner["f"]
            if tag in ("c", "row"):
                e.clear()
    return found


def _open_document(f: IO[bytes]) -> tuple[dict[int, Cells], dict[int, list[Range]], dict[int, Percents]]:
    cells: dict[int, Cells] = {}
    merged: dict[int, list[Range]] = {}
    percents: dict[int, array[int]] = {}
    sheet, row, column = -1, 0, 0
    wrong: list[tuple[int, str]] = []  # error cells of the row that is open
    shares: list[int] = []  # columns of its percentages
    for event, e in _elements(f, "start", "end"):
        tag = e.tag
        if event == "start":
            if tag == _TABLE + "table":
                sheet, row = sheet + 1, 0
                cells[sheet], merged[sheet], percents[sheet] = {}, [], array("Q")
            elif tag == _TABLE + "table-row":
                row, column = row + 1, 0
            continue
        if tag in (_TABLE + "table-cell", _TABLE + "covered-table-cell"):
            many = int(e.get(_TABLE + "number-columns-repeated") or 1)
            down, right = (int(e.get(_TABLE + f"number-{w}-spanned") or 1) for w in ("rows", "columns"))
            if down > 1 or right > 1:
                merged[sheet].append((row, column, row + down - 1, column + right - 1))
            text = "".join(e.itertext()).strip()
            if text.startswith("#") and any(_bare(k) == "value-type" and v == "error" for k, v in e.attrib.items()):
                wrong += [(column + i, text) for i in range(min(many, _MOST_REPEATED))]
            if e.get(_OFFICE + "value-type") == "percentage" and e.get(_OFFICE + "value"):
                shares += range(column, column + many)
            column += many
            e.clear()
        elif tag == _TABLE + "table-row":
            rows = int(e.get(_TABLE + "number-rows-repeated") or 1)
            if wrong and rows > _MOST_REPEATED:
                raise ValueError("a row of errors is repeated too often")
            cells[sheet].update({(row + i, at): text for i in range(rows if wrong else 0) for at, text in wrong})
            for at in range(row, row + rows if shares else row):  # no more than calamine has laid out already
                percents[sheet].extend(packed(at, place) for place in shares)
            row, wrong, shares = row + rows - 1, [], []
            e.clear()
    return cells, merged, {n: Percents((BUILT_IN[9],), found) for n, found in percents.items()}
