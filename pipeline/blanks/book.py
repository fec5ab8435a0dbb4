"""A blank workbook as bytes: a sheet a kind, a page of instructions, a hidden page of lists."""

import datetime as dt
import io
import re
from decimal import Decimal

from openpyxl import Workbook
from openpyxl.cell.cell import Cell as XlCell
from openpyxl.styles import Alignment, Border, Font, PatternFill, Side
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.worksheet import Worksheet

from pipeline.blanks.boxes import Book, Box, Cell, Sheet
from pipeline.blanks.checks import SHOWN, check
from pipeline.blanks.instructions import instructions
from pipeline.blanks.lists import Page
from pipeline.tongue import Tongue

MARK, TITLE, ONCE, NEED, HEAD, FIRST = 1, 2, 3, 4, 5, 6  # rows of a sheet
ROWS = 500  # checked below the headings
RULED = 24  # at least so many rows get lines, for whoever prints it
SHOWN_AS: tuple[float | dt.date, ...] = (
    1.5,
    dt.date(2021, 12, 31),
)  # show how a program that saves a sheet as text writes numbers and days
THIN = Side(style="thin", color="888888")
LINES = Border(left=THIN, right=THIN, top=THIN, bottom=THIN)
GREY, PALE = PatternFill("solid", fgColor="D9D9D9"), PatternFill("solid", fgColor="F0F0F0")


def workbook(book: Book, said: Tongue, page_mark: str) -> bytes:
    """The whole workbook. page_mark: the first cell of pages that hold no data."""
    made = Workbook()
    made.remove(made.active)
    sheets = [made.create_sheet(tab_name(s.name, made.sheetnames)) for s in book.sheets]
    page = made.create_sheet(tab_name(said("Instructions"), made.sheetnames))
    lists = Page(made, tab_name(said("Lists"), made.sheetnames), page_mark, book.lists)
    for sheet, at in zip(book.sheets, sheets, strict=True):
        _Filled(at, sheet, book, said, lists).lay_out(page.title)
    instructions(page, book, said, page_mark)
    made.active = 0
    made.properties.creator, made.properties.title = "Wrackline", f"{book.programme}: {book.partner}"
    data = io.BytesIO()
    made.save(data)
    return data.getvalue()


def tab_name(name: str, taken: list[str]) -> str:
    """A sheet's name as programs allow it, and no other sheet's."""
    plain = re.sub(r"[\[\]:*?/\\']", " ", name).strip()[:28] or "-"
    return next(n for n in (plain, *(f"{plain} {i}" for i in range(2, 99))) if n not in taken)


class _Filled:
    """One sheet while it is laid out."""

    def __init__(self, at: Worksheet, sheet: Sheet, book: Book, said: Tongue, lists: Page) -> None:
        self.at, self.sheet, self.book, self.said, self.lists = at, sheet, book, said, lists
        self.place = {b.heading: get_column_letter(n) for n, b in enumerate(sheet.boxes, 1)}
        self.once: dict[str, str] = {}

    def lay_out(self, page: str) -> None:
        """Everything on it. page: the name of the page of instructions."""
        at, said, sheet = self.at, self.said, self.sheet
        self._text(MARK, 1, sheet.mark, Font(size=7, color="595959")).alignment = Alignment(
            wrap_text=True, vertical="top"
        )
        for column, probe in enumerate(SHOWN_AS, 2):
            cell = self._text(MARK, column, probe, Font(size=7, color="595959"))
            cell.number_format = SHOWN[self.sheet.dates] if column == 3 else "General"
        at.row_dimensions[MARK].height = 11
        self._text(TITLE, 1, sheet.title, Font(size=14, bold=True))
        at.row_dimensions[TITLE].height = 22
        if sheet.once:
            self._above()
        else:
            told = said(
                "How to fill it in stands on the sheet “{page}”. Columns marked “needed” must be filled in every row you use.",
                page=page,
            )
            self._text(ONCE, 1, told, Font(size=10))
        for n, box in enumerate(sheet.boxes, 1):
            self._column(n, box)
        for n, row in enumerate(sheet.rows, FIRST):
            for box in sheet.boxes:
                self._given(n, box, row.get(box.heading))
        self._print()

    def _text(self, row: int, column: int, value: Cell | float, font: Font) -> XlCell:
        cell: XlCell = self.at.cell(row, column, value)
        cell.font = font
        return cell

    def _above(self) -> None:
        """Boxes that are written once, above the table, and followed by every given row."""
        at, column = self.at, 1
        for box in (b for b in self.sheet.boxes if b.heading in self.sheet.once):
            self._text(ONCE, column, box.heading, Font(bold=True)).alignment = Alignment(horizontal="right")
            cell = at.cell(ONCE, column + 1)
            cell.border, cell.number_format = LINES, self._format(box)
            self.once[box.heading] = f"${get_column_letter(column + 1)}${ONCE}"
            self._checked(box, f"{get_column_letter(column + 1)}{ONCE}", "")
            column += 2
        told = self.said("Write these once: every row below takes them over.")
        self._text(ONCE, column, told, Font(size=9, italic=True))

    def _column(self, n: int, box: Box) -> None:
        at, letter = self.at, get_column_letter(n)
        at.column_dimensions[letter].width = _width(box, [r.get(box.heading) for r in self.sheet.rows])
        at.column_dimensions[letter].number_format = self._format(box)
        head, need = at.cell(HEAD, n, box.heading), at.cell(NEED, n)
        head.data_type = "s"
        need.value = self.said("given") if not box.sort else self.said("needed") if box.needed else None
        need.font, need.alignment = Font(size=8, italic=True), Alignment(horizontal="center")
        head.font, head.fill, head.border = Font(bold=True), GREY, LINES
        head.alignment = Alignment(wrap_text=True, vertical="center", horizontal="center")
        for row in range(FIRST, FIRST + max(RULED, len(self.sheet.rows))):
            at.cell(row, n).border = LINES
            at.cell(row, n).number_format = self._format(box)
        self._checked(
            box, f"{letter}{FIRST}:{letter}{FIRST + max(ROWS, len(self.sheet.rows)) - 1}", self.place.get(box.of, "")
        )

    def _checked(self, box: Box, cells: str, place: str) -> None:
        made = check(box, self.said, self.lists.source(box, f"${place}{FIRST}" if place else ""))
        if made is not None:
            first = cells.partition(":")[0]
            made.formula1 = made.formula1.replace("@", first) if made.type == "custom" else made.formula1
            made.add(cells)
            self.at.add_data_validation(made)

    def _given(self, row: int, box: Box, value: Cell) -> None:
        cell = self.at.cell(row, self.sheet.boxes.index(box) + 1)
        if box.heading in self.once:
            at = self.once[box.heading]
            cell.value = f'=IF({at}="","",{at})'
        elif value is not None:
            cell.value = float(value) if isinstance(value, Decimal) else value
            if isinstance(value, str):
                cell.data_type = "s"  # a partner's own words are never a formula
            cell.fill = PALE

    def _format(self, box: Box) -> str:
        day = SHOWN[self.sheet.dates]
        return {"day": day, "instant": f"{day} hh:mm", "whole": "General", "decimal": "General"}.get(box.sort, "@")

    def _print(self) -> None:
        at, last = self.at, get_column_letter(len(self.sheet.boxes))
        at.freeze_panes = f"A{FIRST}"
        at.row_dimensions[HEAD].height = 45
        at.page_setup.orientation, at.page_setup.paperSize = "landscape", at.PAPERSIZE_A4
        at.page_setup.fitToWidth, at.page_setup.fitToHeight = 1, 0
        at.sheet_properties.pageSetUpPr.fitToPage = True
        at.print_title_rows = f"{HEAD}:{HEAD}"
        at.print_area = f"A{TITLE}:{last}{FIRST + max(RULED, len(self.sheet.rows)) - 1}"
        at.oddFooter.left.text, at.oddFooter.right.text = self.book.programme.replace("&", "&&"), "&P / &N"
        at.page_margins.left = at.page_margins.right = 0.4


def _width(box: Box, given: list[Cell]) -> float:
    """Wide enough for its longest word, what it is chosen from, and a day; headings are wrapped."""
    longest = max(
        [len(w) for w in re.split(r"\s+", box.heading)]
        + [len(w) for w in box.words]
        + [len(str(g)) for g in given if g is not None]
    )
    usual = {"day": 12, "instant": 18, "whole": 9, "decimal": 10, "yesno": 9}.get(box.sort, 12)
    return float(min(30, max(usual, longest + 3, len(box.heading) / 2.5)))
