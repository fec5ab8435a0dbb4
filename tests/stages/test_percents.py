"""Which cells of a workbook are shown as percentages."""

import io
import zipfile
from array import array

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.intake import workbook_percents
from pipeline.intake.workbook_percents import Percents, is_percent, may_be_percent, packed

# ECMA-376 part 1, 18.8.31: sections, literals in quotes or behind a backslash, _ and * before a character, colours and conditions
SHOWN = [
    ("0%", 0.35, True), ("0.00%", -0.35, True), ("[Red]0.0%", 1.0, True), ("#,##0 %", 0.0, True), ("General%", 0.5, True),
    ("[$-40C]0.0\\ %", 0.5, True), ("_-* 0%_-", 0.5, True), ("0%;[Red]-0%", -0.5, True), ("0%;-0%;\"none\"", 0.0, True),
    ('0" %"', 35.0, False), ("0\\%", 35.0, False), ("0_%", 35.0, False), ("0*%", 35.0, False), ("[$%]0", 35.0, False),
    ("General", 0.5, False), ("", 0.5, False), ("0.0", 0.5, False), ("0%;0", 0.5, True), ("0%;0", -0.5, False), ("0%;0;0.0", 0.0, False),
    ("[<=1]0%;0", 1.0, True), ("[<=1]0%;0", 35.0, False), ("[>1]0;0%", 0.35, True), ("[>1]0;0%", 35.0, False),
    ("[=0]0;[<1.5]0%;General", 0.35, True), ("[=0]0;[<1.5]0%;General", 35.0, False), ('0;0;0;@"%"', 35.0, False),
]  # fmt: skip


@pytest.mark.parametrize(("code", "value", "shown"), SHOWN)
def test_a_format_says_whether_a_number_is_shown_as_a_percentage(code, value, shown):
    """A percent sign counts in the section that the number is of, unless it is a literal, a width or a filling."""
    assert is_percent(code, value) is shown
    assert may_be_percent(code) or not shown


@given(
    st.lists(st.lists(st.sampled_from(["", ' s="1"', ' s="12"', ' s="2"', ' t="s" s="1"']), max_size=6), max_size=6),
    st.integers(0, 3),
    st.sampled_from([5, 64, 1 << 18]),
)
def test_tags_alone_and_the_whole_xml_tell_the_same(styles, left, chunk):
    """Where cells say where they stand, their tags alone tell the same percentages as parsing does."""
    rows = [
        "".join(f'<c r="{chr(65 + left + n)}{at}"{s}><v>1</v></c>' for n, s in enumerate(cells))
        for at, cells in enumerate(styles, 2)
    ]
    made = "".join(f'<row r="{at}">{cells}</row>' for at, cells in enumerate(rows, 2))
    packed_book = io.BytesIO()
    with zipfile.ZipFile(packed_book, "w") as book:
        book.writestr("sheet.xml", f"<worksheet><cols><col s='1'/></cols><sheetData>{made}</sheetData></worksheet>")
    place = {"1": 0, "12": 1}
    with zipfile.ZipFile(packed_book) as book, pytest.MonkeyPatch.context() as patch:
        patch.setattr(workbook_percents, "_CHUNK", chunk)
        quick = workbook_percents._quick(book, "sheet.xml", place, 1 << 20)
        assert quick == workbook_percents._plain(book, "sheet.xml", place, 1 << 20)
    wanted = [(r, left + n) for r, cells in enumerate(styles, 2) for n, s in enumerate(cells) if s and '"2"' not in s]
    assert [(c >> 32, c >> 16 & 0xFFFF) for c in quick] == wanted


def test_cells_are_told_in_order_however_they_were_saved():
    """Rows that a program saved out of order are told in their places."""
    cells = Percents(("0%",), array("Q", [packed(3, 1), packed(2, 5), packed(2, 0)]))
    assert [[c for c, _ in cells.in_row(row)] for row in (1, 2, 3, 4)] == [[], [0, 5], [1], []]
