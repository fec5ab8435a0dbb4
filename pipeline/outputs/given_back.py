"""The held rows of a drop as a workbook that its partner mends and hands in again: its own headings and cells, beside them
what is wrong and the row's id. Every cell is text, so that nothing changes on the way there and back, and nothing runs.
"""

import datetime as dt
import io
import re
import zipfile
from collections.abc import Sequence
from dataclasses import dataclass, field

from openpyxl import Workbook
from openpyxl.cell.cell import Cell
from openpyxl.comments import Comment
from openpyxl.styles import Alignment, Border, Font, PatternFill, Side
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.worksheet import Worksheet

from pipeline.differing import Difference
from pipeline.faults import Fault
from pipeline.held_ids import OURS, HeldId, heading_of, text_of
from pipeline.outputs.differing_told import line_of, lines_of
from pipeline.outputs.values import Theirs
from pipeline.outputs.waiting_told import advice
from pipeline.outputs.words import Post
from pipeline.unsettled import Waiting

LONGEST = 32_767  # characters that a cell of a workbook may hold
WIDEST = 32  # of the partner's own columns
_WIDTHS = {1: 62, 2: 24}  # of ours
NOTED = 1_000  # cells that carry their fault as a note too
_UNWRITABLE = re.compile(r"[\x00-\x08\x0b-\x1f\ufffe\uffff]|_x[0-9A-Fa-f]{4}_")  # not kept as they are by a workbook
_NO_TITLE = re.compile(r"[\[\]:*?/\\\x00-\x1f]")
_RUNS = ("=", "+", "-", "@", "\t", "\r", "\n")  # how texts begin that a spreadsheet might take for a formula
_QUOTED = re.compile(r"“([^”]*)”")
_LAST_OF_2021 = dt.date(2021, 12, 31)  # by which a blank sheet shows how the program that saves it writes days
_NUMBER = re.compile(r"-?\d{1,15}(\.\d{1,15})?")

OURS_FILL = PatternFill("solid", fgColor="F4F1EA")
HEAD_FILL = PatternFill("solid", fgColor="DFE5E6")
FAULT_FILL = PatternFill("solid", fgColor="FFE3B3")
_THICK = Side(style="medium", color="7A4B00")
FAULT_BORDER = Border(left=_THICK, right=_THICK, top=_THICK, bottom=_THICK)
TOP = Alignment(wrap_text=True, vertical="top")


@dataclass(frozen=True)
class HeldRow:
    """A held row: its number in the partner's sheet, its cells, its faults. id: None where nothing is held yet (a trial).

    differing: of its parts that say otherwise than others, which columns and both values. still: what it would wait for once it
    is mended.
    """

    row: int
    cells: Sequence[str]
    faults: Sequence[Fault]
    id: HeldId | None
    differing: Sequence[Difference] = ()
    still: Sequence[Waiting] = ()


@dataclass(frozen=True)
class HeldSheet:
    """The held rows of one sheet.

    file, sheet  what they are of.
    above        rows that are looked for above the headings: labels and values, or how the sheet is read.
    amounts      places of columns of numbers and days, in which a spreadsheet may do as it does.
    typed        whether its cells came typed (Parquet, a blank sheet of ours): then numbers go back as numbers, and so do
                 number and day of the line that tells how a blank sheet is read.
    theirs       the partner's own words for ours.
    """

    file: str
    sheet: str
    header: Sequence[str]
    above: Sequence[Sequence[str]]
    amounts: frozenset[int]
    typed: bool
    rows: Sequence[HeldRow]
    theirs: Theirs = field(default_factory=dict)


def writable(cells: Sequence[str]) -> bool:
    """Whether a workbook gives these texts back as they are."""
    return all(len(c) <= LONGEST and not _UNWRITABLE.search(c) for c in cells)


def workbook(sheets: Sequence[HeldSheet], _: Post) -> bytes:
    """The workbook's bytes, the same for the same rows. Every row and heading must be `writable`."""
    book = Workbook()
    book.remove(book.worksheets[0])
    notes = NOTED
    for held in sheets:
        notes = _fill(book.create_sheet(_title(held, book.sheetnames)), held, _, notes)
    made = io.BytesIO()
    book.save(made)
    return _still(made.getvalue())


def _title(held: HeldSheet, taken: Sequence[str]) -> str:
    plain = _NO_TITLE.sub(" ", held.sheet or held.file.rpartition(".")[0] or held.file).strip(" '")[:26] or "1"
    low = {t.casefold() for t in taken}
    return next(t for t in (plain, *(f"{plain} {n}" for n in range(2, 999))) if t.casefold() not in low)


def _fill(sheet: Worksheet, held: HeldSheet, _: Post, notes: int) -> int:
    """One sheet; gives how many cells may still carry a note."""
    for at, cells in enumerate(held.above, 1):
        for place, text in enumerate(cells, 3):
            _put(sheet.cell(at, place), text, number=held.typed)
            if held.typed and text == str(_LAST_OF_2021):
                sheet.cell(at, place).value = _LAST_OF_2021
    top = len(held.above) + 1
    headings = (f"{OURS} – {_('What to mend')}", heading_of(held.file, held.sheet), *held.header)
    for at, heading in enumerate(headings, 1):
        cell = sheet.cell(top, at)
        _put(cell, heading)
        cell.font, cell.alignment = Font(bold=at > 2, color="4A5A60" if at == 2 else "16262B"), TOP
        cell.fill = OURS_FILL if at <= 2 else HEAD_FILL
    for at, row in enumerate(held.rows, top + 1):
        told = _notes(row, held, _)
        _put(sheet.cell(at, 1), _reason(row, held, _))
        _put(sheet.cell(at, 2), text_of(row.id) if row.id else "")
        for place in (1, 2):
            sheet.cell(at, place).fill, sheet.cell(at, place).alignment = OURS_FILL, TOP
        for place, text in enumerate(row.cells):
            cell = sheet.cell(at, place + 3)
            free = place in held.amounts
            _put(cell, text, number=held.typed and free, free=free)
            cell.alignment = TOP
            if place in told:
                cell.fill, cell.border = FAULT_FILL, FAULT_BORDER
                if notes:
                    notes -= 1
                    cell.comment = Comment("\n".join(told[place]), OURS, width=320, height=110)
    _lay_out(sheet, held, top)
    return notes


def _put(cell: Cell, text: str, number: bool = False, free: bool = False) -> None:
    """Write a text as a text, whatever it looks like. number: a plain number goes as one. free: what is typed over it may be one."""
    if number and _NUMBER.fullmatch(text) and repr(float(text) if "." in text else int(text)) == text:
        cell.value = float(text) if "." in text else int(text)
        return
    cell.number_format = "General" if free else "@"
    if text:
        cell.value = text
        cell.data_type = "s"  # openpyxl would take “=1+1” for a formula
        cell.quotePrefix = text.startswith(_RUNS)


def _notes(row: HeldRow, held: HeldSheet, _: Post) -> dict[int, list[str]]:
    """By place of a cell, what its note says, a line each: its faults, and of each part of the row what differs there."""
    found: dict[int, list[str]] = {}
    for fault in row.faults:
        for place in _places(fault, held.header):
            found.setdefault(place, []).append(_what([fault], _))
    for d in row.differing:
        for c in d.columns:
            for place, heading in enumerate(held.header):
                if c.heading and heading == c.heading:
                    found.setdefault(place, []).append(line_of(_, d, c, held.theirs))
    return {place: list(dict.fromkeys(lines)) for place, lines in found.items()}


def _places(fault: Fault, header: Sequence[str]) -> list[int]:
    """Which cells a fault is about: its heading's, else those that it names."""
    named = {fault.heading} if fault.heading in header else set(_QUOTED.findall(fault.heading + fault.advice))
    return [n for n, heading in enumerate(header) if heading and heading in named]


def _reason(row: HeldRow, held: HeldSheet, _: Post) -> str:
    """What is wrong with a row, in words: which column, what was found, what is wanted, what to do; and what differs."""
    where = _("row {row}", row=row.row)
    alike: dict[tuple[str, ...], list[Fault]] = {}  # a sentence about several cells, said once
    for f in row.faults:
        alike.setdefault((f.code, f.found, f.wanted, f.advice), []).append(f)
    lines = [_what(faults, _) for faults in alike.values()]
    lines += [line for d in row.differing for line in lines_of(_, d, held.theirs)]
    lines += [f"{_capital(_.again(w.why))}. {advice(_, w)}" for w in row.still]
    return "\n".join([f"{where[:1].upper()}{where[1:]}:", *dict.fromkeys(lines)])


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def _what(faults: Sequence[Fault], _: Post) -> str:
    """What is wrong with cells of which the same is to be said."""
    fault = faults[0]
    found = _.found(fault.code, fault.found[:200]) if fault.column and fault.found else _.again(fault.found)
    columns = dict.fromkeys(_("column “{heading}”", heading=f.heading) for f in faults if f.heading)
    told = ", ".join(t for t in (*columns, found) if t)
    wanted = _("Wanted: {wanted}.", wanted=_.again(fault.wanted))
    said = f"{told[:1].upper()}{told[1:]}. {wanted}" if told and not told.endswith(".") else f"{told} {wanted}".strip()
    text = f"{said} {_.again(fault.advice)}"
    return "".join(c if c.isprintable() else " " for c in text)[:1000]


def _lay_out(sheet: Worksheet, held: HeldSheet, top: int) -> None:
    """Widths, the headings and reasons kept in sight, a landscape page as wide as the paper."""
    sheet.freeze_panes = sheet.cell(top + 1, 2)
    for place, width in _WIDTHS.items():
        sheet.column_dimensions[get_column_letter(place)].width = width
    for n, heading in enumerate(held.header):
        longest = max([len(heading), *(len(r.cells[n]) for r in held.rows[:200] if n < len(r.cells))])
        sheet.column_dimensions[get_column_letter(n + 3)].width = max(9, min(longest + 2, WIDEST))
    for row in sheet.iter_rows(min_row=top):  # programs do not all make room for what is wrapped
        lines = max(_lines(str(cell.value or ""), _WIDTHS.get(cell.column, WIDEST)) for cell in row)
        sheet.row_dimensions[row[0].row or top].height = min(15.0 * lines + 2, 400)
    sheet.page_setup.orientation, sheet.page_setup.fitToHeight = "landscape", 0
    sheet.sheet_properties.pageSetUpPr.fitToPage = True
    sheet.print_title_rows = f"{top}:{top}"


def _lines(text: str, width: int) -> int:
    """How many lines a text takes in a column of that width, with some room to spare."""
    return sum(-(-max(len(line), 1) * 11 // (10 * width)) for line in text.split("\n"))


def _still(made: bytes) -> bytes:
    """The same workbook without the hour at which it was made."""
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(made)) as old, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new:
        for name in old.namelist():
            data = old.read(name)
            if name == "docProps/core.xml":
                data = re.sub(rb"(<dcterms:\w+[^>]*>)[^<]*(</dcterms:)", rb"\g<1>2000-01-01T00:00:00Z\g<2>", data)
            info = zipfile.ZipInfo(name, (1980, 1, 1, 0, 0, 0))
            info.compress_type = zipfile.ZIP_DEFLATED
            new.writestr(info, data)
    return out.getvalue()
