"""The page of instructions: how to fill in, what each column wants with an example, the usual cautions in the field.

The example stands here and not as a row of the sheet: a row of the sheet would be data the day somebody leaves it there.
"""

from openpyxl.styles import Alignment, Border, Font, PatternFill, Side
from openpyxl.worksheet.worksheet import Worksheet

from pipeline.blanks.boxes import Book, Box, Sheet
from pipeline.blanks.checks import SHOWN, asks
from pipeline.tongue import Tongue

THIN = Side(style="thin", color="888888")
LINES = Border(left=THIN, right=THIN, top=THIN, bottom=THIN)
GREY = PatternFill("solid", fgColor="D9D9D9")
WIDTHS = (26, 11, 62, 26)  # heading, needed, what is wanted, example
LETTERS = 112  # of running text in a line across these columns


def instructions(at: Worksheet, book: Book, said: Tongue, mark: str) -> None:
    """Write the page."""
    for letter, width in zip("ABCD", WIDTHS, strict=True):
        at.column_dimensions[letter].width = width
    at.cell(1, 1, mark).font = Font(size=7, color="595959")
    row = _line(at, 2, said("Instructions"), Font(size=14, bold=True))
    row = _line(at, row, f"{book.programme} · {book.partner}", Font(bold=True))
    for n, step in enumerate(_steps(book, said), 1):
        row = _line(at, row, f"{n}. {step}", Font())
    row = _line(at, row + 1, said("In the field"), Font(bold=True, size=12))
    for caution in _cautions(said):
        row = _line(at, row, f"– {caution}", Font())
    for sheet in book.sheets:
        row = _line(at, row + 1, said("Columns of “{sheet}”", sheet=sheet.name), Font(bold=True, size=12))
        row = _row(
            at, row, [said("Column"), said("needed"), said("What is wanted"), said("Example (no data)")], head=True
        )
        for box in sheet.boxes:
            row = _row(at, row, [box.heading, _need(box, said), _wanted(box, said), _example(box, sheet, said)])
    if book.places:
        row = _line(at, row + 1, said("Sites"), Font(bold=True, size=12))
        for code, name in book.places:
            row = _row(at, row, [code, "", name, ""])
    at.page_setup.orientation, at.page_setup.paperSize = "portrait", at.PAPERSIZE_A4
    at.page_setup.fitToWidth, at.page_setup.fitToHeight = 1, 0
    at.sheet_properties.pageSetUpPr.fitToPage = True
    at.print_area = f"A2:D{row - 1}"
    at.oddFooter.right.text = "&P / &N"


def _steps(book: Book, said: Tongue) -> list[str]:
    steps = [
        said("One row is one thing: one unit, one frame, one bill. Fill in what you know and leave the rest blank."),
        said("Columns marked “needed” must be filled in every row you use. Click on a cell and it says what is wanted."),
        said("0 is data: you looked and found none. A blank cell means that nobody looked or nobody knows."),
        said("Cells with a list show an arrow. A word that is not on a list of places or units may be right: then say yes when you are asked."),
        said("Numbers alone in cells of numbers, without a unit; doubts and notes go into a column of remarks."),
        said("You may add rows, add columns of your own, put columns in another order and take out those you never need. Leave the headings and the small first line as they are: by them the sheet is read."),
        said("Save it under any name, as .xlsx, .ods or .csv, and put it where you always put your files. It may come again with more rows: what is known is recognised."),
    ]  # fmt: skip
    if book.visit:
        steps.insert(
            1,
            said(
                "The rows for {site} are given as on the dive sheet. Type what was written on the slate beside them; a given row that you leave blank says nothing. If your slate has other numbers of frames, write them over those given.",
                site=book.visit,
            ),
        )
    if book.as_of is not None:
        steps.append(
            said(
                "The lists hold what was known on {day}. What came later you may write all the same.",
                day=said.day(book.as_of),
            )
        )
    return steps


def _cautions(said: Tongue) -> list[str]:
    return [
        said(
            "Your dive supervisor and local rules decide, not this sheet. Nothing in it says that a dive, a place or a day is safe."
        ),
        said("Dive by your own plan. No gas, decompression or tide advice is given here."),
        said("Mind currents, surge, boats overhead, lines that entangle, and the cold."),
        said("Lifting bolts, trays and full bags: by people trained for it, by the rules of your organisation."),
        said("Warm or sealed fertile tissue and cleaning agents: by the laboratory's own rules."),
        said(
            "Cutting, moving, placing and removing may need a permit; protected species and places have rules of their own. Ask the authority first."
        ),
        said("Whether volunteers' dives count as work is for local law."),
        said("No count is worth a risk: a blank row is a good row."),
    ]


def _need(box: Box, said: Tongue) -> str:
    return said("given") if not box.sort else said("needed") if box.needed else ""


def _wanted(box: Box, said: Tongue) -> str:
    return " ".join(t for t in (box.wanted, asks(box, said)) if t)


def _example(box: Box, sheet: Sheet, said: Tongue) -> str:
    e = box.example
    if e is None or isinstance(e, str | int):
        return "" if e is None else str(e)
    if hasattr(e, "strftime"):
        return str(e.strftime(SHOWN[sheet.dates].replace("yyyy", "%Y").replace("mm", "%m").replace("dd", "%d")))
    return said.number(float(e), 12)


def _line(at: Worksheet, row: int, text: str, font: Font) -> int:
    """One paragraph across the page; gives the row below."""
    at.merge_cells(start_row=row, start_column=1, end_row=row, end_column=len(WIDTHS))
    cell = at.cell(row, 1, text)
    cell.font, cell.alignment, cell.data_type = font, Alignment(wrap_text=True, vertical="top"), "s"
    at.row_dimensions[row].height = _height(len(text) / LETTERS, (font.size or 11) * 1.4)
    return row + 1


def _row(at: Worksheet, row: int, texts: list[str], head: bool = False) -> int:
    for n, text in enumerate(texts, 1):
        cell = at.cell(row, n, text)
        cell.data_type, cell.border = "s", LINES
        cell.alignment = Alignment(wrap_text=True, vertical="top")
        cell.font = Font(bold=head)
        if head:
            cell.fill = GREY
    at.row_dimensions[row].height = _height(max(len(t) / (w * 0.95) for t, w in zip(texts, WIDTHS, strict=True)), 15)
    return row + 1


def _height(lines: float, of_one: float) -> float:
    return float((int(lines) + 1) * of_one + 2)
