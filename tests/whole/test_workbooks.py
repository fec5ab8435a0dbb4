"""A workbook from the inbox to a figure, its letter, and the evidence of that figure."""

import io
from pathlib import Path

import openpyxl
import pytest

from pipeline import look, run
from pipeline.intake.read import Tally, open_sheets, rows

MAPPING = """
dates = "DMY"
decimal = ","
[[sheet]]
files = ["season*.xlsx"]
sheets = ["Bags*"]
unit_row = true
skip_rows_starting = ["Total"]
kind = "deployment"
fixed = { method = "spore bag" }
[sheet.columns]
unit_key = "Tag"
site_key = "Site"
plot_key = "Plot"
happened = "Put down"

[[sheet]]
files = ["season*.xlsx"]
sheets = ["Counts"]
kind = "survey"
fixed = { frame_type = "quadrat", placement = "random", protocol = "frames", species = "Laminaria hyperborea", stage = "recruit" }
[sheet.columns]
visit_key = "Dive"
happened = "Date"
site_key = "Site"
plot_key = "Plot"
frame_key = "Frame"
count = "Number"
area_m2 = "Area"
"""
COUNTS = [("T1", 3), ("T1", 5), ("T1", 4), ("T1", 7), ("C1", 0), ("C1", 1), ("C1", 0), ("C1", 0)]


@pytest.fixture(scope="module")
def season(new_programme):
    """A programme whose partner hands in one workbook: two sheets of data, one of notes, one blank."""
    book = openpyxl.Workbook()
    bags = book.active
    bags.title = "Bags 2025"
    for row in (["Our season"], [], ["Tag", "Site", "Plot", "Put down"], ["code", "code", "code", "day"]):
        bags.append(row)
    for n in range(3):
        bags.append([f"B{n}", "CB", "T1", "01/03/2025"])
    bags.append(["Total", None, None, 3])
    counts = book.create_sheet("Counts")
    counts.append(["Dive", "Date", "Site", "Plot", "Frame", "Number", "Area"])
    for n, (plot, count) in enumerate(COUNTS):
        counts.append(["D1", "01/06/2025", "CB", plot, n, count, 0.25])
    book.create_sheet("Read me").append(["=HYPERLINK(evil)", "ask Ana"])
    book.create_sheet("Sheet4")
    data = io.BytesIO()
    book.save(data)
    programme = new_programme()
    programme.partner("club", MAPPING)
    programme.put("club", "season 2025.xlsx", data.getvalue())
    run.run_all(programme.root)
    return programme


def test_both_sheets_enter(season):
    """Every row of both sheets enters under the number that a spreadsheet shows, and the receipt holds."""
    [entry] = [e for e in season.ledger.entries() if e.partner == "club"]
    assert entry.receipt.holds()
    assert (entry.receipt.entered, entry.receipt.held) == (3 + len(COUNTS), 0)
    rows = {(p["sheet"], p["row"]) for p in season.parts(entry)}
    assert rows == {("Bags 2025", n) for n in (5, 6, 7)} | {("Counts", n) for n in range(2, 10)}
    assert entry.format == 4 and len(entry.notes) == 3


def test_the_letter_says_what_was_left_out(season):
    """The sheet of notes, the row of units and the sum are named in the letter."""
    [path] = (season.root / "out/letters/club").glob("0*.txt")
    letter = path.read_text(encoding="utf-8")
    assert "How it was read:" in letter
    assert "The sheet “Read me” (1 row) has no headings that the mapping knows and was left out." in letter
    assert "Sheet “Bags 2025”, row 4 left out: units." in letter
    assert "row 8 left out: begins as the mapping says." in letter
    assert "Thank you: everything could be used." in letter


def test_its_evidence_gives_the_same_figure(season, tmp_path):
    """A programme of only a figure's rows gives it again, though the mapping speaks of sheets, units and sums."""
    figures = {(f.indicator, *(v for _, v in f.scope if v)): f for f in look.published(season.root)}
    figure = figures["density", "CB", "treated", "Laminaria hyperborea", "recruit", "2025-06-01", "frames", "plot"]
    assert look.evidence(season.root, figure, tmp_path / "e")
    assert len(list((tmp_path / "e/inbox/club").rglob("*.xlsx"))) == 2


def test_so_does_evidence_of_a_text_that_the_mapping_explains(new_programme, tmp_path):
    """Rows of a file whose encoding and units the mapping states give the figure again, none taken for the row of units."""
    programme = new_programme()
    mapping = (
        MAPPING.split("[[sheet]]")[2]
        .replace("*.xlsx", "*.txt")
        .replace('sheets = ["Counts"]', 'encoding = "cp1252"\nunit_row = true')
    )
    programme.partner("club", "[[sheet]]" + mapping)
    rows = [f"é{n};2025-06-01;CB;{plot};{n};{count};0.25" for n, (plot, count) in enumerate(COUNTS)]
    text = "\n".join(["Dive;Date;Site;Plot;Frame;Number;Area", ";;;;;n;m2", *rows])
    programme.put("club", "season.txt", text.encode("cp1252"))
    programme.put(
        "club", "deployment.csv", b"unit_key,method,site_key,plot_key,happened\nB1,spore bag,CB,T1,2025-03-01\n"
    )
    run.run_all(programme.root)
    figures = {(f.indicator, *(v for _, v in f.scope if v)): f for f in look.published(programme.root)}
    figure = figures["density", "CB", "treated", "Laminaria hyperborea", "recruit", "2025-06-01", "frames", "plot"]
    assert figure.estimate.n == 4
    assert look.evidence(programme.root, figure, tmp_path / "e")


def test_a_programme_named_from_where_one_stands(season, tmp_path, monkeypatch):
    """A workbook is read too when the programme's folder was named by a path that begins where one stands."""
    monkeypatch.chdir(season.root.parent)
    (sheet, *_) = open_sheets(Path(season.root.name) / "inbox/club/season 2025.xlsx", "season 2025.xlsx")
    assert sheet.name == "Bags 2025"
    assert sum(t.num_rows for t in rows(sheet, 3, 4, Tally(), tmp_path)) == 5
