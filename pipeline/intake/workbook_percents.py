"""Which cells of a workbook are shown as a percentage: calamine gives their number as it is saved, 0.35 where 35 % is seen.

A number format has sections for numbers above, below and at zero, or for what its own conditions say; a % counts unless
it is a literal (ECMA-376 part 1, 18.8.30 and 18.8.31; the formats 9 and 10 are built in). Runs inside the workbook's own
process. A sheet is gone through only where the workbook has such a format; a cell that has it takes 8 bytes.
"""

import re
import zipfile
from array import array
from collections.abc import Callable, Iterator, Sequence
from functools import cache
from xml.parsers import expat

BUILT_IN = {9: "0%", 10: "0.00%"}
_CHUNK = 1 << 18
_LITERAL = re.compile(r'"[^"]*"?|\\.|_.|\*.|\[(?![<>=])[^\]]*\]', re.DOTALL)
_CONDITION = re.compile(r"\[(<=|>=|<>|<|>|=)\s*([-+]?\d[\d.]*(?:E[-+]?\d+)?)\]", re.IGNORECASE)
_NUMBER = re.compile(r"[0#?@]|general", re.IGNORECASE)
_HOLDS: dict[str, Callable[[float, float], bool]] = {
    "<=": float.__le__, ">=": float.__ge__, "<>": float.__ne__, "<": float.__lt__, ">": float.__gt__, "=": float.__eq__,
}  # fmt: skip
_USUAL = (("", ""), (">=", ""), (">", "<", ""))  # than 0: which numbers each of one, two or three sections is of
_REFERENCE = re.compile(r"([A-Z]{1,3})(\d{1,7})")


class Percents:
    """The cells of a sheet that have a format with a percent sign, asked for row by row, in order.

    codes: the formats. cells: row from 1, column from 0 and place among the codes, packed into one number each.
    """

    def __init__(self, codes: Sequence[str] = (), cells: Sequence[int] = ()) -> None:
        self.codes = codes
        self.cells = cells if _ascends(cells) else array("Q", sorted(set(cells)))
        self._next = 0

    def in_row(self, row: int) -> Iterator[tuple[int, str]]:
        """(column, format) of the cells of that row; the rows before it must have been asked for."""
        while self._next < len(self.cells) and self.cells[self._next] >> 32 <= row:
            cell = self.cells[self._next]
            self._next += 1
            yield cell >> 16 & 0xFFFF, self.codes[cell & 0xFFFF]


def packed(row: int, column: int, code: int = 0) -> int:
    """A cell as one number, in the order of rows and columns."""
    return row << 32 | column << 16 | code


def _ascends(cells: Sequence[int]) -> bool:
    last = -1
    for cell in cells:
        if cell <= last:
            return False
        last = cell
    return True


def may_be_percent(code: str) -> bool:
    """Whether a format has a percent sign that is no literal."""
    return "%" in _LITERAL.sub("", code)


def is_percent(code: str, value: float) -> bool:
    """Whether a number of that format is shown as a percentage."""
    sections = _sections(code)
    return next((percent for holds, than, percent in sections if not holds or _HOLDS[holds](float(value), than)), False)


@cache
def _sections(code: str) -> tuple[tuple[str, float, bool], ...]:
    """(comparison, with what, whether shown as a percentage) of the sections for numbers; one that shows none is as the first."""
    found = []
    pieces = _LITERAL.sub("", code).split(";")[:3]
    for piece, usual in zip(pieces, _USUAL[len(pieces) - 1], strict=False):
        holds, than = (c[1], float(c[2])) if (c := _CONDITION.search(piece)) else (usual, 0.0)
        shows = piece if _NUMBER.search(piece) or "%" in piece else pieces[0]
        found.append((holds, than, "%" in shows))
    return tuple(found)


# --- Excel --------------------------------------------------------------------------------------------------


def percent_styles(book: zipfile.ZipFile) -> dict[str, str]:
    """Number of a cell's style -> its format, of those with a percent sign."""
    if "xl/styles.xml" not in book.namelist():
        return {}
    codes, formats, inside = dict(BUILT_IN), list[int](), False

    def start(tag: str, has: dict[str, str]) -> None:
        nonlocal inside
        name = tag.rpartition(":")[2]
        if name == "numFmt":
            codes[_whole(has.get("numFmtId"))] = has.get("formatCode", "")
        elif name == "xf" and inside:
            formats.append(_whole(has.get("numFmtId")))
        elif name == "cellXfs":
            inside = True

    def end(tag: str) -> None:
        nonlocal inside
        inside = inside and tag.rpartition(":")[2] != "cellXfs"

    parser = expat.ParserCreate()
    parser.StartElementHandler, parser.EndElementHandler = start, end
    with book.open("xl/styles.xml") as f:
        parser.ParseFile(f)
    told = {str(n): codes.get(number, "") for n, number in enumerate(formats)}
    return {style: code for style, code in told.items() if may_be_percent(code)}


def _whole(text: str | None) -> int:
    return int(text) if text and text.isdecimal() else 0


def percents_of(book: zipfile.ZipFile, part: str, styles: dict[str, str], last_row: int) -> Percents:
    """The cells of one sheet with one of those styles, down to that row at least. part: name of the sheet's XML."""
    if not styles:
        return Percents()
    codes = sorted(set(styles.values()))
    place = {style: codes.index(code) for style, code in styles.items()}
    cells = _quick(book, part, place, last_row)
    return Percents(codes, _plain(book, part, place, last_row) if cells is None else cells)


def _quick(book: zipfile.ZipFile, part: str, place: dict[str, int], last_row: int) -> "array[int] | None":
    """Packed cells, by their tags alone; None where these do not tell: a cell that names no style or place, another encoding."""
    if "0" in place:  # the style of a cell that names none
        return None
    tags = re.compile(rb"<(?:\w+:)?c(?=\s)(?=[^>]*\ss=[\"'](" + "|".join(place).encode() + rb")[\"'])([^>]*)")
    where = re.compile(rb"\sr=[\"']([A-Z]{1,3})(\d{1,7})[\"']")
    cells, tail = array("Q"), b""
    with book.open(part) as f:
        while chunk := f.read(_CHUNK):
            if b"\0" in chunk:  # UTF-16
                return None
            cut = (text := tail + chunk).rfind(b"<")
            cut = len(text) if cut < 0 or b">" in text[cut:] else cut  # a tag that goes on in the next chunk
            for style, has in tags.findall(text[:cut]):
                found = where.search(has)
                if found is None:
                    return None
                row = int(found[2])
                cells.append(packed(row, column_of(found[1].decode()), place[style.decode()]))
                if row > last_row:
                    return cells
            tail = text[cut:]
    return cells


def _plain(book: zipfile.ZipFile, part: str, place: dict[str, int], last_row: int) -> "array[int]":
    """The same by parsing the XML, which takes four times as long."""
    cells = array("Q")
    row, reference, beyond = 0, "", -1  # the last reference that was written, and how many cells came after it

    def start(tag: str, has: dict[str, str]) -> None:
        nonlocal row, reference, beyond
        if tag == "c" or tag.endswith(":c"):
            if "r" in has:
                reference, beyond = has["r"], 0
            else:
                beyond += 1
            code = place.get(has.get("s", "0"))
            if code is not None:
                found = _REFERENCE.fullmatch(reference)
                at, column = (int(found[2]), column_of(found[1]) + beyond) if found else (row, beyond)
                cells.append(packed(at, column, code))
        elif tag == "row" or tag.endswith(":row"):
            row, reference, beyond = int(has.get("r") or row + 1), "", -1

    parser = expat.ParserCreate()
    parser.StartElementHandler = start
    with book.open(part) as f:
        while (chunk := f.read(_CHUNK)) and row <= last_row:
            parser.Parse(chunk)
    return cells


@cache
def column_of(letters: str) -> int:
    """The place of a column from 0: A is 0, AA is 26."""
    at = 0
    for letter in letters:
        at = at * 26 + ord(letter) - 64
    return at - 1
