"""Held rows go back to their partner as a workbook, are mended there, and find their place again under any file name."""

import csv
import io

import pytest
from openpyxl import load_workbook

from pipeline import look, run

MAPPING = """
language = "nb"
decimal = ","
dates = "DMY"

[[sheet]]
files = ["poser*.csv"]
kind = "deployment"
fill_down = ["Sted"]
[sheet.columns]
unit_key = "Merke"
happened = "Dato"
site_key = "Sted"
plot_key = "Felt"
mass_kg = "Masse"
remarks = "Merknad"
[sheet.fixed]
method = "spore bag"
"""
HEAD = ["Merke", "Dato", "Sted", "Felt", "Masse", "Merknad", "Eget"]
ROWS = [
    ["007", "01/03/2025", "CB", "T1", "1,50", "=HYPERLINK(1)", "1.0"],
    ["008", "31/02/2025", "", "T1", "1,50", "=1+1", "0012"],
    ["", "01/03/2025", "NP", "T1", "mye", "-5", "@x"],
    ["010", "01/03/2025", "", "T1", "x", "fin", ""],
]


def sheet(rows):
    """The partner's own file."""
    out = io.StringIO()
    csv.writer(out, delimiter=";").writerows([HEAD, *rows])
    return out.getvalue().encode()


def workbook_of(programme, entry):
    """Where the workbook beside an entry's letter is."""
    run.project(programme.root)
    run.write_letters(programme.root)
    [path] = (programme.root / "out/letters" / entry.partner).glob(f"{entry.number:06d}-*.xlsx")
    return path


def cells(path):
    """(top rows, rows) of the only sheet, as texts."""
    [page] = load_workbook(path).worksheets
    rows = [["" if c is None else c for c in row] for row in page.iter_rows(values_only=True)]
    return rows[0], rows[1:]


def changed(path, change, sort="xlsx"):
    """The workbook's bytes with `change` done to its one sheet, as a person would save it."""
    book = load_workbook(path)
    [page] = book.worksheets
    change(page)
    out = io.BytesIO()
    if sort == "xlsx":
        book.save(out)
        return out.getvalue()
    rows = [
        ["" if c is None else str(c).replace(".", ",") if isinstance(c, float) else c for c in row]
        for row in page.iter_rows(values_only=True)
    ]
    text = io.StringIO()
    csv.writer(text, delimiter=";").writerows(rows)
    return text.getvalue().encode("cp1252", "replace")


def mend_all(page):
    """What the reasons ask for."""
    page["D2"], page["C3"], page["G3"], page["G4"] = "28/02/2025", "009", "2,25", 3.5


@pytest.fixture(scope="module")
def taken(new_programme):
    """To look at only: a programme that took the file in, the entry, and the workbook that goes back."""
    programme = new_programme()
    programme.partner("klubb", MAPPING)
    [entry] = programme.take({"klubb/poser 2025.csv": sheet(ROWS)})
    return programme, entry, workbook_of(programme, entry)


@pytest.fixture
def copy(taken, new_programme):
    """The same programme, to change."""
    import shutil

    made = new_programme(sea=False)
    shutil.copytree(taken[0].root, made.root, dirs_exist_ok=True)
    return made


def open_rows(programme):
    """The names of what is held."""
    run.project(programme.root)
    return [h.name for h in look.held_rows(programme.root)]


def test_the_workbook_holds_the_held_rows_as_they_came(taken):
    """Only held rows go back, text as text: nothing becomes a number, a day or a formula, and blank cells that meant “as above” are filled."""
    _, entry, path = taken
    top, rows = cells(path)
    assert top[1:] == ["wrackline held id: poser 2025.csv", *HEAD] and top[0] == "wrackline – Hva må rettes"
    assert [r[1] for r in rows] == [f"held {entry.number}/{n}" for n in (3, 4, 5)]
    filled = [[*r[:2], place, *r[3:]] for r, place in zip(ROWS[1:], ("CB", "NP", "NP"), strict=True)]
    assert [r[2:] for r in rows] == filled
    [page] = load_workbook(path).worksheets
    assert {c.data_type for row in page.iter_rows() for c in row if c.value is not None} == {"s"}
    assert page["H2"].quotePrefix and page["H3"].quotePrefix and not page["C2"].quotePrefix
    assert b"<f>" not in path.read_bytes() and b"vbaProject" not in path.read_bytes()


def test_faults_are_told_in_words_beside_coloured_cells(taken):
    """Each row begins with its number and its reasons in the partner's language; the cells that they name are coloured, and no other."""
    _, _, path = taken
    _, rows = cells(path)
    assert rows[0][0].startswith("Rad 3:\nKolonnen «Dato», fant «31/02/2025». Ønsket: en dag.")
    [page] = load_workbook(path).worksheets
    coloured = {
        c.coordinate for row in page.iter_rows(min_row=2, min_col=3) for c in row if c.fill.fgColor.rgb == "00FFE3B3"
    }
    assert coloured == {"D2", "C3", "G3", "G4"}
    assert all(page[at].comment for at in coloured)


def test_the_same_ledger_gives_the_same_workbook(taken):
    """Made again, the workbook is the same to the byte."""
    programme, entry, path = taken
    before = path.read_bytes()
    for old in path.parent.glob(f"{entry.number:06d}-*"):
        old.unlink()
    assert workbook_of(programme, entry).read_bytes() == before


@pytest.mark.parametrize(("name", "sort"), [("rettet.xlsx", "xlsx"), ("Mappe1.csv", "csv")])
def test_mended_rows_enter_and_close_what_was_held(copy, taken, name, sort):
    """Mended and handed in under any name, as a workbook or as CSV (its numbers written as the partner writes), every row enters and nothing stays held."""
    assert len(open_rows(copy)) == 3
    [entry] = copy.take({f"klubb/{name}": changed(taken[2], mend_all, sort)})
    assert (entry.receipt.entered, entry.receipt.held, entry.receipt.records) == (3, 0, 3)
    assert entry.receipt.holds() and entry.notes == ()
    assert open_rows(copy) == []
    units = copy.ask("select unit_key, site_key, cast(mass_kg as varchar) from deployment_now order by 1")
    assert units == [
        ("007", "CB", "1.500000"),
        ("008", "CB", "1.500000"),
        ("009", "NP", "2.250000"),
        ("010", "NP", "3.500000"),
    ]


def test_a_row_still_faulty_takes_the_place_of_the_old_one(copy, taken):
    """A row that comes back unmended is held once, under its new name; mended the second time, by the first workbook or the second, it closes."""

    def half(page):
        page["D2"], page["G4"] = "28/02/2025", "2"

    [first] = copy.take({"klubb/a.xlsx": changed(taken[2], half)})
    assert (first.receipt.entered, first.receipt.held) == (2, 1)
    assert open_rows(copy) == [f"{first.number}/{first.sheets[0].name}/3/1"]
    again = workbook_of(copy, first)
    top, [row] = cells(again)
    assert top[1] == "wrackline held id: poser 2025.csv" and row[1] == f"held {first.number}/{first.sheets[0].name}/3"
    [still] = copy.take({"klubb/b.xlsx": changed(taken[2], lambda page: page.delete_rows(4) or page.delete_rows(2))})
    assert open_rows(copy) == [f"{still.number}/{still.sheets[0].name}/2/1"]

    def mend(page):
        page["C2"], page["G2"] = "009", "2,25"

    [last] = copy.take({"klubb/c.xlsx": changed(again, mend)})
    assert (last.receipt.entered, open_rows(copy)) == (1, [])


def test_rows_left_out_or_emptied_stay_held(copy, taken):
    """What the partner deletes from the workbook, or empties, is still held, and a blank row is counted as one."""

    def some(page):
        page["D2"] = "28/02/2025"
        page.delete_rows(4)
        for at in range(3, 10):
            page.cell(3, at).value = None

    [entry] = copy.take({"klubb/a.xlsx": changed(taken[2], some)})
    r = entry.receipt
    assert (r.entered, r.held, r.records, r.blank, r.holds()) == (1, 0, 1, 1, True)
    assert open_rows(copy) == [f"{taken[1].number}/{n}/1" for n in (4, 5)]


def test_a_row_copied_twice(copy, taken):
    """A row with the same id twice counts once where both say the same; where they differ both are held and the old one is not."""

    def twice(page):
        mend_all(page)
        page.append([c.value for c in page[2]])
        for cell in page[page.max_row]:  # openpyxl takes “=1+1” for a formula; a person who copies the row does not
            cell.data_type = "s" if cell.value is not None else cell.data_type

    [entry] = copy.take({"klubb/a.xlsx": changed(taken[2], twice)})
    assert copy.faults(entry) == []
    assert (entry.receipt.entered, entry.receipt.repeated, open_rows(copy)) == (3, 1, [])


def test_ids_of_nobody_are_passed_over_with_a_word(copy, taken):
    """An id that names no held row of this partner closes nothing: the row is read as a new one, and the letter says so."""
    copy.partner("annen", MAPPING)

    def wrong(page):
        mend_all(page)
        page["B3"], page["B4"] = "held 9999/4", "rubbish"

    [entry] = copy.take({"klubb/a.xlsx": changed(taken[2], wrong)})
    assert [n[:5] for n in entry.notes] == ["Row 3", "Row 4"]
    assert entry.receipt.entered == 3
    assert len(open_rows(copy)) == 1  # of the row whose thing nobody could name
    run.project(copy.root)
    run.write_letters(copy.root)
    [letter] = (copy.root / "out/letters/klubb").glob(f"{entry.number:06d}-*.txt")
    assert "ID-en hører ikke til noen tilbakeholdt rad hos dere" in " ".join(letter.read_text().split())


def test_another_partners_id_closes_nothing(copy, taken):
    """Who hands in another's workbook tells things of its own; what the other has held stays held."""
    copy.partner("annen", MAPPING)
    [entry] = copy.take(
        {"annen/a.xlsx": changed(taken[2], lambda page: page.delete_rows(2, 1) or page.delete_rows(3, 1))}
    )
    assert len(entry.notes) == 1
    assert [n for n in open_rows(copy) if n.startswith(f"{taken[1].number}/")] == [
        f"{taken[1].number}/{n}/1" for n in (3, 4, 5)
    ]
