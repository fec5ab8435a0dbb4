"""A secretary who writes Norwegian mends a drop by what letter, workbook and page say, cell by cell, and knows nothing else."""

import csv
import io
import re

import pytest
from openpyxl import load_workbook

from pipeline import look, run

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
[sheet.codes]
state = { sitter = "attached", revet = "torn", borte = "absent" }
[[sheet]]
files = ["poser*"]
kind = "deployment"
[sheet.columns]
unit_key = "Merke"
happened = "Dag"
site_key = "Sted"
plot_key = "Felt"
fixing = "Feste"
[sheet.fixed]
method = "spore bag"
[sheet.codes]
fixing = { limt = "glue" }
"""
BAGS = "unit_key   method      site_key   plot_key   happened     fixing\n" + "\n".join(
    f"CB-{n}   spore bag   CB   T1   2025-03-01   bolt" for n in range(1, 8)
)
CHECKS = """Merke;Dag;Sted;Tilstand;Letetid
CB-1;05/04/2025;CB;tapt;5
CB-2;31/02/2025;CB;sitter;5
CB-3;05/04/2025;CB;sitter;5,5
CB-3;05/04/2025;CB;revet;5
CB-4;05/04/2025;CB;;5
CB-5;05/04/2025;CX;sitter;5
CB-6;05/04/2025;CB;sitter;5
CB-6;06/04/2025;;sitter;5
"""
THEIRS = "Merke;Dag;Sted;Felt;Feste\nCB-7;01/03/2025;CB;T1;limt\n"


def first_of(words):
    """The first word that the letter offers, without ours behind it."""
    return re.sub(r" \(.*?\)$", "", re.split(r", (?![^(]*\))", words)[0])


def mended(row, note):
    """What the note on a coloured cell makes of it; None where the note leaves it to somebody else."""
    if differs := re.search(r"(?:«([^»]*)»|tomt) her; (?:«([^»]*)»|tomt) \(rad (\d+)\)", note):
        mine, other, at = differs.groups()
        return re.sub(r" min$", "", (mine if row < int(at) else other) or "")
    if offered := re.search(r"Ønsket: ett av disse: (.*?)\. Skriv ett av disse i kolonnen", note):
        return first_of(offered[1])
    if offered := re.search(r"Fyll ut kolonnen «.*» med ett av disse: (.*)\.$", note):
        return first_of(offered[1])
    if day := re.search(r"skriv den som år-måned-dag, for eksempel ([\d-]+)\.", note):
        return day[1]
    if "et dykk uten egen kode får navn etter sted og dag" in note:
        return "CB"
    assert "fortalt av" in note, note
    return None


def coloured(path):
    """(row, heading, note) of every coloured cell of a returned workbook, by the row of the partner's own sheet."""
    [page] = load_workbook(path).worksheets
    heads = [c.value for c in page[1]]
    for cells in page.iter_rows(min_row=2):
        own = int(re.match(r"Rad (\d+):", cells[0].value)[1])
        for cell in cells[2:]:
            if cell.fill.fgColor.rgb == "00FFE3B3":
                yield own, cell, heads[cell.column - 1], cell.comment.text


@pytest.fixture(scope="module")
def handed_in(new_programme):
    """A club's checks with a fault of each sort, and a bag of which another partner says otherwise."""
    programme = new_programme()
    programme.partner("klubb", MAPPING)
    programme.take({"clube/deployment.csv": BAGS})
    programme.take({"klubb/sjekk.csv": CHECKS.encode(), "klubb/poser.csv": THEIRS.encode()})
    run.refresh(programme.root)
    return programme


def letter_of(programme, name):
    """The last letter about a file of the club, and the workbook beside it."""
    found = sorted((programme.root / "out/letters/klubb").glob(f"0*-{name}.txt"))[-1]
    return found.read_text(encoding="utf-8"), found.with_suffix(".xlsx")


def test_all_that_the_partner_can_mend_is_mended_by_reading(handed_in, copy_of):
    """A wrong word, a day that is none, a row told twice, a blank cell and an unknown site are mended; what is left is the lead's, and is said to be."""
    programme = copy_of(handed_in)
    text, workbook = letter_of(programme, "sjekk")
    assert "eller be programmet avgjøre" in text
    rows = list(csv.reader(io.StringIO(CHECKS), delimiter=";"))
    changed = set()
    for row, _, heading, note in coloured(workbook):
        rows[row - 1][rows[0].index(heading)] = mended(row, note)
        changed.add((row, heading))
    assert changed == {
        (2, "Tilstand"),
        (3, "Dag"),
        (4, "Tilstand"),
        (4, "Letetid"),
        (5, "Tilstand"),
        (5, "Letetid"),
        (6, "Tilstand"),
        (9, "Sted"),
    }
    page = " ".join((programme.root / "out/letters/klubb/standing.txt").read_text(encoding="utf-8").split())
    strange, at = re.search(r"stedet (\w+) er ennå ikke kjent \(«sjekk\.csv» rad (\d+)", page).groups()
    assert rows[int(at) - 1][2] == strange
    rows[int(at) - 1][2] = "CB"
    [entry] = programme.take({"klubb/sjekk.csv": "\n".join(";".join(r) for r in rows).encode()})
    assert programme.faults(entry) == []
    assert (entry.receipt.held, entry.receipt.parts, entry.receipt.asked) == (0, 8, 1)
    run.refresh(programme.root)
    asked, _ = letter_of(programme, "sjekk")
    assert "trekker dere dem tilbake: be programmet om det tomme arket «Trukket tilbake»" in asked
    key = re.search(r"- sjekk (.*) \(rad 7 den gang\)", asked)[1]
    back = f"happened,withdraws_kind,withdraws_key,reason\n2025-05-01,check,{key},feil sted\n"
    programme.take({"klubb/withdrawal.csv": back.encode()})
    run.refresh(programme.root)
    assert [(h.partner, h.cause) for h in look.held_rows(programme.root)] == [("klubb", "other partner")]
    page = (programme.root / "out/letters/klubb/standing.txt").read_text(encoding="utf-8")
    assert "VENTER" not in page and "HOLDT TILBAKE" not in page and "FORTALT ULIKT AV FLERE" in page


def test_what_only_the_lead_can_decide_is_said_to_be_so(handed_in):
    """Where another partner says otherwise the letter names it, the column and both values, and that the lead rules where they do not agree."""
    text, workbook = letter_of(handed_in, "poser")
    [(row, _, heading, note)] = coloured(workbook)
    assert (row, heading, mended(row, note)) == (2, "Feste", None)
    assert "Kolonnen «Feste»: «limt» her; «bolt», fortalt av clube («deployment.csv» rad 8)" in text
    assert "Snakk med clube og lever det dere blir enige om, eller be programmet avgjøre." in text
