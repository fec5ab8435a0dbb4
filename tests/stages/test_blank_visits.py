"""A blank for the next visit: what is given in it, what a row left blank says, and figures that rest on it."""

import io

import blanks
import openpyxl
import pytest
from blanks import DAY, FIRST, HEAD

from pipeline import look, run
from pipeline.blank_visits import blank_visit
from pipeline.blanking import desk
from pipeline.errors import BadUsage
from pipeline.gathering import sites
from pipeline.pages.dive_sheet import frames_to_count, route
from pipeline.pages.words import words

UNITS = """
    unit_key   method      site_key   plot_key   happened     fixing   batch_key
    CB-1       spore bag   CB         T1         2025-03-01   bolt     .
    CB-2       spore bag   CB         T1         2025-03-01   tie      .
    CB-3       spore bag   CB         T1         2025-03-01   tie      .
"""
LOOKED = """
    happened     site_key   unit_key   state      search_time_min
    2025-03-20   CB         CB-1       attached   .
    2025-03-20   CB         CB-3       absent     20
"""
FRAMES = """
    happened     site_key   plot_key   frame_key   frame_type   placement   area_m2   protocol   species                stage     count
    2025-03-20   CB         T1         7           quadrat      random      0.25      frames     Laminaria hyperborea   recruit   0
    2025-03-20   CB         T1         9           quadrat      random      0.25      frames     Laminaria hyperborea   recruit   0
    2025-03-20   CB         C1         2           quadrat      random      0.25      frames     Laminaria hyperborea   recruit   0
"""
MAPPING = """
[codes.stage]
"tiny" = "recruit"
[codes.state]
"on" = "attached"
"gone" = "absent"
[[sheet]]
files = ["counts*"]
kind = "survey"
columns = { happened = "When", site_key = "Reef", plot_key = "Plot", frame_key = "Square", species = "What", stage = "Size", count = "How many", area_m2 = "cm2" }
units = { area_m2 = "cm2" }
fixed = { frame_type = "quadrat", placement = "random", protocol = "frames" }
[[sheet]]
files = ["log*"]
[[sheet.part]]
kind = "check"
only_if = "Bag A"
columns = { happened = "When", site_key = "Reef", unit_key = "Bag A", state = "State A" }
[[sheet.part]]
kind = "check"
only_if = "Bag B"
columns = { happened = "When", site_key = "Reef", unit_key = "Bag B", state = "State B" }
"""


@pytest.fixture(scope="module")
def told(new_programme):
    """A site with three units, one of them gone, and frames counted once, projected; divers with a mapping of long rows."""
    programme = new_programme()
    programme.take({"club/deployment.csv": UNITS, "club/check.csv": LOOKED, "club/survey.csv": FRAMES})
    programme.partner("divers", MAPPING)
    run.project(programme.root)
    return programme


def visit(told, partner, kinds=("visit", "check", "survey")):
    return openpyxl.load_workbook(io.BytesIO(blank_visit(told.root, desk(told.root, partner), "CB", kinds)))


def given(sheet):
    """The given rows of a sheet, by heading."""
    heads = blanks.headings(sheet)
    rows = [dict(zip(heads, (c.value for c in row), strict=False)) for row in sheet.iter_rows(min_row=FIRST)]
    return [r for r in rows if r["No."] is not None]


def test_it_gives_what_the_dive_sheet_prints(told):
    """Units stand in the order of the dive sheet with their last state, frames as often and in the order in which it has boxes."""
    book = visit(told, "club")
    with run.session(told.root) as (con, _):
        [site] = [s for s in sites(con, words("en"), {}) if s.key == "CB"]
    units = [(r["Unit"], r["Last state"], r["Last looked at"]) for r in given(book["Units looked at"])]
    assert [u for u, *_ in units] == [leg.unit.key for leg in route(site)]
    assert ("CB-1", "attached", "2025-03-20") in units and ("CB-2", "not looked at again", None) in units
    frames = [(r["Plot"], r["Kind of plot"]) for r in given(book["Frames counted"])]
    assert frames == frames_to_count(site.frames) == [("T1", "treated"), ("T1", "treated"), ("C1", "control")]
    assert [r["Frame"] for r in given(book["Frames counted"])] == ["1", "2", "1"]
    assert blanks.headings(book["Frames counted"])[-2:] == [
        "Laminaria hyperborea: recruit",
        "Laminaria hyperborea: juvenile",
    ]


def test_a_partners_long_rows_become_boxes(told):
    """Where a partner writes a row a stage, the visit's sheet has a box a stage in its words and unit, and one unit a row."""
    book = visit(told, "divers", ("check", "survey"))
    assert blanks.headings(book["counts"]) == [
        "No.",
        "When",
        "Reef",
        "Plot",
        "Kind of plot",
        "Square",
        "cm2",
        "Laminaria hyperborea: tiny",
        "Laminaria hyperborea: juvenile",
    ]
    assert [r["cm2"] for r in given(book["counts"])] == [2500, 2500, 2500]
    assert "Bag B" not in blanks.headings(book["log"])
    assert [(r["Bag A"], r["Last state"]) for r in given(book["log"])] == [
        ("CB-1", "on"),
        ("CB-2", "not looked at again"),
    ]


def filled_in(book, rows):
    """The workbook with the day written above the tables of some sheets, and cells of given rows."""
    for tab, typed in rows.items():
        sheet, heads = book[tab], blanks.headings(book[tab])
        for at, row in typed.items():
            for heading, value in row.items():
                sheet.cell(at, heads.index(heading) + 1, value)
    return blanks.saved(blanks.worked_out(book))


def test_a_given_row_left_blank_says_nothing(told, new_programme):
    """Given rows without a filled box make no event and no fault, are told as a count, and a frame of them makes no zero."""
    book = visit(told, "club", ("check", "survey"))
    rows = {
        "Units looked at": {FIRST: {"Date": DAY, "State": "torn"}, FIRST + 1: {"Date": DAY}},
        "Frames counted": {FIRST: {"Date": DAY, "Laminaria hyperborea: recruit": 4}, FIRST + 1: {"Date": DAY}},
    }
    programme = new_programme()
    [entry] = programme.take({"club/x.xlsx": filled_in(book, rows)})
    assert programme.faults(entry) == []
    assert entry.receipt.holds()
    assert (entry.receipt.records, entry.receipt.entered) == (5, 3)
    assert entry.notes == (
        "Sheet “Units looked at”, 1 given row left blank, so nothing is told there: row 7.",
        "Sheet “Frames counted”, 2 given rows left blank, so nothing is told there: rows 7, 8.",
    )
    assert [(s["stage"], s["count"]) for s in programme.segment(entry, "survey")] == [
        ("recruit", 4),
        ("juvenile", None),
    ]
    run.run_all(programme.root)
    [letter] = (programme.root / "out" / "letters" / "club").glob("*x.txt")
    assert "1 given row left blank" in letter.read_text()


def test_a_row_added_below_is_like_any_other(told, new_programme):
    """A row that somebody adds has no number of ours: it enters when it is right and is held, with its reason, when it is not."""
    book = visit(told, "club", ("check",))
    rows = {
        "Units looked at": {
            FIRST + 2: {"Date": DAY, "Site": "CB", "Unit": "CB-9", "State": "attached"},
            FIRST + 3: {"Date": DAY, "Site": "CB", "Unit": "CB-8"},
        }
    }
    programme = new_programme()
    [entry] = programme.take({"club/x.xlsx": filled_in(book, rows)})
    assert [c["unit_key"] for c in programme.segment(entry, "check")] == ["CB-9"]
    assert [(row, column) for row, column, *_ in programme.faults(entry)] == [(FIRST + 3, "state")]


def test_evidence_of_rows_that_came_in_a_blank_sheet(told, new_programme, tmp_path):
    """The rows behind a figure that came in a blank sheet give the same figure in a programme of their own."""
    programme = new_programme()
    programme.take({"club/deployment.csv": UNITS})
    run.project(programme.root)
    book = openpyxl.load_workbook(
        io.BytesIO(blank_visit(programme.root, desk(programme.root, "club", "nb"), "CB", ("survey",)))
    )
    sheet = book.worksheets[0]
    heads = blanks.headings(sheet)
    for at in range(FIRST, FIRST + len([r for r in sheet.iter_rows(min_row=FIRST, max_col=1) if r[0].value])):
        for heading, value in (
            (heads[1], DAY),
            (heads[heads.index("Rutens areal (m2)")], 0.25),
            ("Laminaria hyperborea: rekrutt", at),
        ):
            sheet.cell(at, heads.index(heading) + 1, value)
    [entry] = programme.take({"club/ruter.xlsx": blanks.saved(blanks.worked_out(book))})
    assert programme.faults(entry) == []
    run.run_all(programme.root)
    figure = next(f for f in look.published(programme.root) if f.indicator == "density" and f.of("stage") == "recruit")
    assert look.evidence(programme.root, figure, tmp_path / "proof")


def test_only_a_registered_site_is_visited(told):
    """A site that is not registered, or a kind that is no part of a visit, is refused with what there is."""
    at = desk(told.root, "club")
    with pytest.raises(BadUsage, match="CB, NP"):
        blank_visit(told.root, at, "XX", ("check",))
    with pytest.raises(BadUsage, match="visit, check, survey"):
        blank_visit(told.root, at, "CB", ("cost",))


def test_the_heading_row_is_where_the_tests_think(told):
    """The rows that these tests fill in are those below the frozen headings."""
    sheet = visit(told, "club")["Units looked at"]
    assert sheet.freeze_panes == f"A{FIRST}" and sheet.cell(HEAD, 1).value == "No."
