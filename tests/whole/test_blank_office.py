"""Blank sheets typed into with LibreOffice, saved in its ways, and handed in."""

import csv
import json
import os
import shutil
import subprocess
from pathlib import Path

import blanks
import openpyxl
import pytest
from openpyxl.utils import get_column_letter

from pipeline import run
from pipeline.blank_visits import blank_visit
from pipeline.blanking import desk

WHY = (
    "no LibreOffice that Python can type into here: `apt-get install -y --no-install-recommends libreoffice-calc python3-uno` "
    "brings it (`.ci/run` does)"
)
SYSTEM = "/usr/bin/python3"  # the one that has `uno`
HERE = Path(__file__).parent
SAVED = ("xlsx", "ods", "csv")


def has_office() -> bool:
    """Whether LibreOffice is here, and a Python that can type into it."""
    if not (shutil.which("soffice") and Path(SYSTEM).exists()):
        return False
    return subprocess.run([SYSTEM, "-c", "import uno"], capture_output=True, check=False).returncode == 0


HAS_OFFICE = has_office()
pytestmark = pytest.mark.skipif(not HAS_OFFICE and os.environ.get("WRACKLINE_OFFICE") != "must", reason=WHY)

UNITS = """
    unit_key   method      site_key   plot_key   happened     fixing
    CB-1       spore bag   CB         T1         2025-03-01   bolt
    CB-2       spore bag   CB         T1         2025-03-01   tie
    CB-3       spore bag   CB         T1         2025-03-01   tie
"""
FRAMES = """
    happened     site_key   plot_key   frame_key   frame_type   placement   area_m2   protocol   species                stage     count
    2025-03-05   CB         T1         1           quadrat      random      0.25      frames     Laminaria hyperborea   recruit   0
    2025-03-05   CB         T1         2           quadrat      random      0.25      frames     Laminaria hyperborea   recruit   0
    2025-03-05   CB         C1         1           quadrat      random      0.25      frames     Laminaria hyperborea   recruit   0
"""


@pytest.fixture(scope="module")
def office(new_programme, tmp_path_factory):
    """A visit's workbook made for a partner, typed into and saved by LibreOffice: (programme, saved files, checks it knows)."""
    assert HAS_OFFICE, WHY  # WRACKLINE_OFFICE=must: nothing here may be skipped
    programme = new_programme()
    programme.partner("lag", blanks.CHECKS)
    programme.take({"lag/deployment.csv": UNITS, "lag/survey.csv": FRAMES})
    run.project(programme.root)
    folder = tmp_path_factory.mktemp("office")
    at = desk(programme.root, "lag", "nb")
    blank = folder / "blank.xlsx"
    blank.write_bytes(blank_visit(programme.root, at, "CB", ("visit", "check", "survey")))
    book = openpyxl.load_workbook(blank)
    tabs, typed = book.sheetnames, []

    def cell(tab, heading, row):
        place = {h: get_column_letter(n) for n, h in enumerate(blanks.headings(book[tab]), 1)}
        return f"{place[heading]}{row}"

    dives, checks, frames = tabs[:3]
    own = blanks.headings(book[dives])
    typed += [[dives, cell(dives, own[1], 6), "2025-06-03"], [dives, cell(dives, own[4], 6), "found"]]
    typed += [
        [checks, "B3", "2025-06-03"],
        [checks, cell(checks, "Tilstand", 6), "attached"],
        [checks, cell(checks, "Tilstand", 8), "borte"],
    ]
    typed += [[checks, cell(checks, "Letetid", 8), "7.5"]]
    boxes = blanks.headings(book[frames])
    counts = [h for h in boxes if h.startswith("Laminaria")]
    typed += [
        [frames, "B3", "2025-06-03"],
        [frames, cell(frames, counts[0], 6), "3"],
        [frames, cell(frames, counts[1], 6), "0"],
        [frames, cell(frames, counts[0], 8), "12"],
    ]
    look = [f"{get_column_letter(n)}6" for n in range(1, 16)]
    plan = folder / "plan.json"
    saved = {end: folder / f"saved.{end}" for end in SAVED}
    plan.write_text(json.dumps([{"file": str(blank), "typed": typed, "look": look, "save": [str(p) for p in saved.values()]},
                                {"file": str(saved["xlsx"]), "typed": [], "look": look, "save": [str(folder / "again.ods")]}]))  # fmt: skip
    done = subprocess.run(
        [SYSTEM, HERE / "office_types.py", plan], capture_output=True, text=True, timeout=300, check=False
    )
    assert done.returncode == 0, done.stderr
    return programme, folder, tabs, json.loads(done.stdout)


def handed_in(new_programme, files):
    """The entries of files that the partner hands in to a programme of its own."""
    programme = new_programme()
    programme.partner("lag", blanks.CHECKS)
    entries = programme.take({f"lag/{name}": data for name, data in files.items()})
    told = {}
    for entry in entries:
        assert programme.faults(entry) == []
        assert entry.receipt.holds()
        for kind in ("visit", "check", "survey"):
            told.setdefault(kind, []).extend(programme.segment(entry, kind))
    return entries, told


def files_of(folder, end, tabs):
    if end != "csv":
        return {f"whatever.{end}": (folder / f"saved.{end}").read_bytes()}
    return {f"{n}.csv": (folder / f"saved-{tab}.csv").read_bytes() for n, tab in enumerate(tabs[:3])}


@pytest.mark.parametrize("end", [*SAVED, "again"])
def test_what_was_typed_comes_back(new_programme, office, end):
    """What is typed in LibreOffice enters whatever it is saved as, without a mapping of it, and what was left blank says nothing."""
    _, folder, tabs, _ = office
    files = {"again.ods": (folder / "again.ods").read_bytes()} if end == "again" else files_of(folder, end, tabs)
    entries, told = handed_in(new_programme, files)
    assert [(v["site_key"], str(v["happened"]), v["outcome"]) for v in told["visit"]] == [("CB", "2025-06-03", "found")]
    checks = {
        c["unit_key"]: (c["state"], c["search_time_min"] and float(c["search_time_min"]), str(c["happened"]))
        for c in told["check"]
    }
    assert checks == {"CB-1": ("attached", None, "2025-06-03"), "CB-3": ("absent", 7.5, "2025-06-03")}
    counts = {(s["plot_key"], s["frame_key"], s["stage"]): s["count"] for s in told["survey"]}
    assert counts == {
        ("T1", "1", "recruit"): 3,
        ("T1", "1", "juvenile"): 0,
        ("C1", "1", "recruit"): 12,
        ("C1", "1", "juvenile"): None,
    }
    notes = [n for e in entries for n in e.notes]
    assert len(notes) == 2 and all("1 given row left blank" in n for n in notes)


def test_the_lines_of_a_text_file_are_even(office):
    """Saved as text the first line still tells how to read, and shows one and a half and a day as that program writes them."""
    _, folder, tabs, _ = office
    with (folder / f"saved-{tabs[1]}.csv").open(encoding="utf-8", newline="") as f:
        first = next(csv.reader(f))
    assert first[0].startswith("wrackline-form 1") and first[1:3] == ["1.5", "31/12/2021"]
