"""What a returned workbook notes on a cell, and when a value is told with its unit."""

import io

import pytest
from openpyxl import load_workbook

from pipeline.differing import Against, Difference, Differs
from pipeline.faults import Fault
from pipeline.outputs.given_back import HeldRow, HeldSheet, workbook
from pipeline.outputs.values import with_unit
from pipeline.outputs.words import words


@pytest.mark.parametrize(
    ("heading", "shown"),
    [
        ("Profondeur maximum", "8.5 m"), ("Depth", "8.5 m"), ("Depth (m)", "8.5"), ("Depth [m]", "8.5"),
        ("depth_m", "8.5"), ("Dybde m", "8.5"), ("Tiefe in m.", "8.5"), ("", "8.5 m"),
    ],
)  # fmt: skip
def test_a_unit_stands_behind_a_value_unless_the_heading_tells_it(heading, shown):
    """A heading tells the unit where it is a word of it or stands in brackets, not where a longer word holds its letters."""
    assert with_unit("8.5", "deployment", "depth_m", heading) == shown


def test_a_note_holds_all_that_is_said_of_its_cell():
    """Where a cell is at fault and of two parts of its row differs too, its note says what to do and both differences, a line each."""
    fault = Fault("", 2, 1, "check", "state", "State", "not a known word", "tron", "one of these: torn", "Mend it.")
    differing = [
        Difference("a.csv", "", 2, part, "check", "clube", (Differs("state", "State", mine, (("lost", Against("outro", "b.csv", "", 4)),)),))
        for part, mine in ((1, "torn"), (2, "attached"))
    ]  # fmt: skip
    row = HeldRow(2, ["tron"], [fault], None, differing)
    book = workbook([HeldSheet("a.csv", "", ["State"], [], frozenset(), False, [row])], words("en"))
    note = load_workbook(io.BytesIO(book)).worksheets[0]["C2"].comment.text.split("\n")
    assert len(note) == 3 and note[0].endswith("Mend it.")
    assert note[1:] == [
        f"Column “State”: “{mine}” here; “lost”, told by outro (“b.csv” row 4)" for mine in ("torn", "attached")
    ]


def test_what_is_wrong_with_several_cells_is_said_once():
    """Where a tool wrote formulas into three cells of a row, its reason names the columns and says what to do once; each cell keeps its note."""
    header = ["Dive", "Site", "Day"]
    faults = [
        Fault("", 2, part, "visit", c, h, "formula without value", "a formula", "the value of the formula", "Open it and save it.")
        for part in (1, 2) for c, h in (("visit_key", "Dive"), ("site_key", "Site"), ("happened", "Day"))
    ]  # fmt: skip
    book = workbook([HeldSheet("a.xlsx", "", header, [], frozenset(), False, [HeldRow(2, ["", "", ""], faults, None, [])])], words("en"))  # fmt: skip
    page = load_workbook(io.BytesIO(book)).worksheets[0]
    told = [str(cell.value) for row in page for cell in row if "formula" in str(cell.value)]
    assert (
        len(told) == 1
        and told[0].count("a formula") == 1
        and all(f"column “{h}”" in told[0].lower().replace(h.lower(), h) for h in header)
    )
    assert [page.cell(2, n).comment is not None for n in (3, 4, 5)] == [True] * 3
