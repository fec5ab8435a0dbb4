"""A filled-in blank sheet whose rows are held goes back as it was filled in, is mended, and enters without a mapping."""

import csv
import datetime as dt
import io
import shutil

import blanks
import pytest
from blanks import DAY, FIRST, HEAD
from openpyxl import load_workbook

from pipeline import look, run
from pipeline.blank_visits import blank_visit
from pipeline.blanking import desk
from pipeline.trying import try_file

UNITS = """
    unit_key   method      site_key   plot_key   happened     fixing
    CB-1       spore bag   CB         T1         2025-03-01   bolt
    CB-2       spore bag   CB         T1         2025-03-01   tie
"""
RECRUITS = {
    p: ("Laminaria hyperborea: re", f"Laminaria hyperborea: {j}") for p, j in (("lag", "juv"), ("klubb", "ung"))
}


@pytest.fixture(scope="module")
def told(new_programme):
    """A site with two units, projected; one partner with a mapping and one without."""
    programme = new_programme()
    programme.partner("lag", f'language = "nb"\n{blanks.CHECKS}')
    (programme.root / "inbox" / "klubb").mkdir()
    programme.take({"programme/deployment.csv": UNITS})
    run.project(programme.root)
    return programme


@pytest.fixture
def copy(told, new_programme):
    """The same programme, to change."""
    made = new_programme(sea=False)
    shutil.copytree(told.root, made.root, dirs_exist_ok=True)
    return made


def saved_as(book, sort, name):
    """What a person hands in of a workbook's sheets of data: the workbook, or a CSV of each as a program in Norwegian saves it."""
    if sort == "xlsx":
        return {f"{name}.xlsx": blanks.saved(book)}
    made = {}
    for n, page in enumerate(book.worksheets):
        text = io.StringIO()
        csv.writer(text, delimiter=";", lineterminator="\r\n").writerows(
            [_shown(c) for c in row] for row in page.iter_rows(values_only=True)
        )
        made[f"{name} {n}.csv"] = text.getvalue().encode("utf-8-sig")
    return made


def _shown(value):
    if hasattr(value, "strftime"):
        return value.strftime("%d.%m.%Y")
    return "" if value is None else str(value).replace(".", ",") if isinstance(value, float) else str(value)


def of(page, heading):
    """The place of the only column whose heading begins so."""
    rows = [[str(c or "") for c in row] for row in page.iter_rows(max_row=HEAD, values_only=True)]
    [heads] = [r for r in rows if "Nr." in r]
    [at] = [n for n, h in enumerate(heads, 1) if h.startswith(heading)]
    return at


def type_in(page, row, typed):
    """Type cells of a row by the beginnings of their headings."""
    for heading, value in typed.items():
        page.cell(row, of(page, heading), value)


def filled_in(programme, partner):
    """The blank of a visit with its sheets of data, filled in: a fault on each of the three, and good rows on two."""
    at = desk(programme.root, partner, "nb")
    book = load_workbook(io.BytesIO(blank_visit(programme.root, at, "CB", ("visit", "check", "survey"))))
    for extra in book.sheetnames[3:]:
        del book[extra]
    dive, units, frames = book.worksheets
    units["B3"] = frames["B3"] = DAY
    recruits, juveniles = RECRUITS[partner]
    type_in(dive, FIRST, {"Dato": DAY, "Utfall": "nesten"})
    type_in(units, FIRST, {"Tilstand": "løs", "Letetid": 7.5})
    type_in(units, FIRST + 1, {"Tilstand": "borte", "Letetid": 1})
    type_in(frames, FIRST, {"Rutens areal": 0.25, recruits: "mange", juveniles: 0})
    type_in(frames, FIRST + 1, {"Rutens areal": 0.25, recruits: 3, juveniles: 1})
    return blanks.worked_out(book)


def mend(page):
    """What the reason beside the one row of a returned sheet asks for, and one more cell set right."""
    heads = [c.value for c in page[2]]
    if "Tilstand" in heads:
        type_in(page, 3, {"Tilstand": "borte", "Letetid": 8.5})
    elif "Utfall" in heads:
        type_in(page, 3, {"Utfall": "funnet"})
    else:
        [at] = [n for n, c in enumerate(page[3], 1) if c.value == "mange"]
        page.cell(3, at, 5)


def open_rows(programme):
    """The names of what is held."""
    run.project(programme.root)
    return [h.name for h in look.held_rows(programme.root)]


@pytest.mark.parametrize(  # every pair of the three occurs once
    ("partner", "filled_as", "mended_as"),
    [("lag", "xlsx", "xlsx"), ("lag", "csv", "csv"), ("klubb", "xlsx", "csv"), ("klubb", "csv", "xlsx")],
)
def test_held_rows_of_a_blank_sheet_are_mended_and_enter(copy, partner, filled_as, mended_as):
    """Filled in, held, mended in what came back and handed in under other names as other files, all of a visit enters, and nothing stays held."""
    first = copy.take({f"{partner}/{n}": d for n, d in saved_as(filled_in(copy, partner), filled_as, "besøk").items()})
    assert sum(e.receipt.entered for e in first) == 4  # of a frame with a fault in one count the other one enters
    assert len(open_rows(copy)) == 3
    run.project(copy.root)
    run.write_letters(copy.root)
    returned = sorted((copy.root / "out/letters" / partner).glob("*.xlsx"))
    mended = {}
    for n, path in enumerate(returned):
        book = load_workbook(path)
        for page in book:
            mend(page)
        mended |= {f"{partner}/{name}": data for name, data in saved_as(book, mended_as, f"rettet {n}").items()}
    last = copy.take(mended)
    assert [f for e in last for f in copy.faults(e)] == []
    assert [n for e in last for n in e.notes] == []
    assert open_rows(copy) == []
    assert copy.ask("select outcome from visit_now") == [("found",)]
    checks = copy.ask("select unit_key, state, cast(search_time_min as double), happened from check_now order by 1")
    assert checks == [("CB-1", "absent", 8.5, DAY), ("CB-2", "absent", 1.0, DAY)]
    counts = copy.ask("select frame_key, stage, count, cast(area_m2 as double) from survey_now order by 1, 2")
    assert counts == [
        ("1", "juvenile", 0, 0.25),
        ("1", "recruit", 5, 0.25),
        ("2", "juvenile", 1, 0.25),
        ("2", "recruit", 3, 0.25),
    ]


def test_a_blank_workbook_goes_back_as_it_was_typed(copy):
    """Numbers of a blank sheet filled in as a workbook go back as numbers, with the one and a half and the day of its own line."""
    copy.take({f"klubb/{n}": d for n, d in saved_as(filled_in(copy, "klubb"), "xlsx", "besøk").items()})
    run.project(copy.root)
    run.write_letters(copy.root)
    [path] = (copy.root / "out/letters/klubb").glob("*.xlsx")
    units = load_workbook(path).worksheets[1]
    assert [units.cell(3, of(units, h)).value for h in ("Letetid", "Enhet", "Nr.")] == [7.5, "CB-1", "1"]
    assert [c.value for c in units[1] if c.value is not None][1:] == [1.5, dt.datetime.fromisoformat("2021-12-31")]


def test_a_partner_without_a_mapping_is_written_to_in_its_blank_sheets_language(copy):
    """Letter, workbook and page of what is open are in the language of the blank sheet that was filled in; so are later letters."""
    copy.take({f"klubb/{n}": d for n, d in saved_as(filled_in(copy, "klubb"), "csv", "besøk").items()})
    copy.take({"klubb/deployment.csv": UNITS.replace("CB-", "CC-").replace("bolt", ".")})
    run.refresh(copy.root)
    letters = sorted((copy.root / "out/letters/klubb").glob("0*.txt"))
    assert len(letters) == 4
    assert all(" til klubb\n" in path.read_text() for path in letters)
    assert "HOLDT TILBAKE" in (copy.root / "out/letters/klubb/standing.txt").read_text()
    back = load_workbook(next((copy.root / "out/letters/klubb").glob("*.xlsx"))).worksheets[0]
    assert any(str(c.value).endswith("Hva må rettes") for row in back.iter_rows(max_row=3) for c in row)
    tried = try_file(copy.root, copy.put("klubb", "deployment 2.csv", UNITS.replace("CB-", "CD-")), "klubb")
    assert "en prøve" in tried.letter.text()
