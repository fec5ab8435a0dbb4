"""Where rows say different things, letter and workbook name each column that differs, as the partner heads it, with both values."""

import pytest
from openpyxl import load_workbook

from pipeline import run

MAPPING = """
language = "nb"
decimal = ","
dates = "DMY"
[[sheet]]
files = ["sjekk*"]
kind = "check"
[sheet.columns]
unit_key = "Merke"
happened = "Dag"
site_key = "Sted"
state = "Tilstand"
search_time_min = "Letetid"
remarks = "Merknad"
[sheet.codes]
state = { sitter = "attached", revet = "torn" }
[[sheet]]
files = ["poser*"]
kind = "deployment"
[sheet.columns]
unit_key = "Merke"
happened = "Dag"
site_key = "Sted"
plot_key = "Felt"
fixing = "Feste"
mass_kg = "Kilo"
[sheet.fixed]
method = "spore bag"
[[sheet]]
files = ["telling*"]
kind = "survey"
[sheet.columns]
happened = "Dag"
site_key = "Sted"
plot_key = "Felt"
frame_key = "Rute"
area_m2 = "Areal"
[sheet.fixed]
frame_type = "quadrat"
placement = "random"
protocol = "frames"
stage = "recruit"
[sheet.wide]
headings = ["L. *", "S. *"]
pattern = "(?P<species>.*)"
cell = "count"
"""
CHECKS = """Merke;Dag;Sted;Tilstand;Letetid;Merknad
CB-1;05/04/2025;CB;sitter;5;fin
CB-1;05/04/2025;CB;revet;5,5;fin
CB-2;05/04/2025;CB;sitter;5;fin
CB-2;05/04/2025;CB;sitter;5;
"""
OTHERS = "Merke;Dag;Sted;Tilstand;Letetid;Merknad\nCB-3;05/04/2025;CB;{};5;\n"
WIDE = "Dag;Sted;Felt;Rute;Areal;L. hyperborea;S. latissima\n05/04/2025;CB;T1;1;0,25;3;1\n05/04/2025;CB;T1;1;0,25;3;2\n"
BAGS = "unit_key   method      site_key   plot_key   happened     fixing   mass_kg   depth_m\nB1   spore bag   CB   T1   2025-03-01   bolt   1.25   4"
THEIRS = "Merke;Dag;Sted;Felt;Feste;Kilo\nB1;02/03/2025;CB;T1;bolt;1,5\n"


@pytest.fixture(scope="module")
def told(new_programme):
    """By file: the letter, and the coloured cells of the workbook with their notes."""
    programme = new_programme()
    programme.partner("klubb", MAPPING)
    programme.take({"clube/deployment.csv": BAGS})
    files = {
        "sjekk.csv": CHECKS, "sjekk a.csv": OTHERS.format("sitter"), "sjekk b.csv": OTHERS.format("revet"),
        "poser.csv": THEIRS, "telling.csv": WIDE,
    }  # fmt: skip
    entries = programme.take({f"klubb/{name}": text.encode() for name, text in files.items()})
    run.refresh(programme.root)
    found = {}
    for e in entries:
        [letter] = (programme.root / "out/letters/klubb").glob(f"{e.number:06d}-*.txt")
        [page] = load_workbook(letter.with_suffix(".xlsx")).worksheets
        cells = [c for row in page.iter_rows(min_row=2, min_col=3) for c in row if c.fill.fgColor.rgb == "00FFE3B3"]
        found[e.name] = letter.read_text(), {c.coordinate: c.comment.text for c in cells}, page["A2"].value
    return found


def test_two_rows_of_one_file(told):
    """Both rows name the columns that differ and the other's row; what is alike is not named; a remark alone may be it."""
    letter, cells, first = told["sjekk.csv"]
    assert (
        "Kolonnen «Tilstand»: «sitter» her; «revet» (rad 3)\n        Kolonnen «Letetid»: «5 min» her; «5,5 min» (rad 3)"
        in letter
    )
    assert "Kolonnen «Tilstand»: «revet» her; «sitter» (rad 2)" in letter
    assert "Kolonnen «Merknad»: «fin» her; tomt (rad 5)" in letter and "«Sted»" not in letter
    assert cells.keys() == {"F2", "G2", "F3", "G3", "H4", "H5"}
    assert cells["F2"] == "Kolonnen «Tilstand»: «sitter» her; «revet» (rad 3)" and cells["F2"] in first


def test_two_files_of_one_day(told):
    """Where the other row stands in another file of the same partner, that file is named, in both letters."""
    for name, other, mine, theirs in (
        ("sjekk a.csv", "sjekk b.csv", "sitter", "revet"),
        ("sjekk b.csv", "sjekk a.csv", "revet", "sitter"),
    ):
        letter, cells, _ = told[name]
        assert f"Kolonnen «Tilstand»: «{mine}» her; «{theirs}» («{other}» rad 2)" in letter
        assert cells.keys() == {"F2"}


def test_another_partner_says_otherwise(told):
    """Who says otherwise is named with file and row, and days and numbers are written as the partner's language does."""
    letter, cells, _ = told["poser.csv"]
    assert "Kolonnen «Dag»: «2. mars 2025» her; «1. mars 2025», fortalt av clube («deployment.csv» rad 2)" in letter
    assert "Kolonnen «Kilo»: «1,5 kg» her; «1,25 kg», fortalt av clube («deployment.csv» rad 2)" in letter
    assert cells.keys() == {"D2", "H2"}


def test_what_the_sheet_has_no_column_for_is_said_so(told):
    """Where others told a column that the partner's sheet has not, the letter says that it cannot be mended there, and whom to ask."""
    letter = " ".join(told["poser.csv"][0].split())
    assert "Arket deres har ingen kolonne for dette: dybde (m)." in letter and "skriv til programmet" in letter
    assert "ingen kolonne" not in told["sjekk.csv"][0]


def test_a_cell_that_many_parts_share_is_told_of_once(new_programme):
    """A row that says one thing a column, with a day that is none, is one row with one fault in the letter."""
    programme = new_programme()
    programme.partner("klubb", MAPPING)
    wrong = WIDE.splitlines()[:2]
    [entry] = programme.take({"klubb/telling.csv": "\n".join(wrong).replace("05/04", "31/06").encode()})
    assert entry.receipt.held == 2
    run.refresh(programme.root)
    [letter] = (programme.root / "out/letters/klubb").glob("*-telling.txt")
    assert "Kolonnen «Dag» (1 rad)" in letter.read_text() and letter.read_text().count("31/06/2025") == 1


def test_a_column_for_each_species(told):
    """Where a row says one thing a column, the heading of the column that differs is named."""
    letter, cells, _ = told["telling.csv"]
    assert "Kolonnen «S. latissima»: «1» her; «2» (rad 3)" in letter and "«L. hyperborea»:" not in letter
    assert cells.keys() == {"I2", "I3"}
