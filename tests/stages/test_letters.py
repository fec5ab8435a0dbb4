"""Letters: a partner who does to its cells what the letter says, and nothing else, gets every row in."""

import re
import shutil

import pytest

from pipeline import publishing, run
from pipeline.check.words import code_of
from pipeline.faults import Fault
from pipeline.intake.cast import WANTED
from pipeline.ledger.entry import Entry, Receipt
from pipeline.outputs.letters import Vanished, letter
from pipeline.session import session

MAPPING = """
decimal = ","
[codes.stage]
"bebé" = "recruit"

[[sheet]]
files = ["contagens*"]
kind = "survey"
[sheet.columns]
visit_key = "Mergulho"
happened = "Data"
site_key = "Sítio"
plot_key = "Parcela"
frame_key = "Quadrado"
frame_type = "Tipo"
placement = "Escolha"
area_m2 = "Área"
protocol = "Plano"
species = "Espécie"
stage = "Tamanho"
count = "Contagem"
fertile_count = "Férteis"
alive = "Vivas"
cover_pct = "Cobertura"

[[sheet]]
files = ["sacos*"]
kind = "deployment"
[sheet.columns]
unit_key = "Saco"
method = "Método"
site_key = "Sítio"
plot_key = "Parcela"
down_at = "Largado"
retrieve_by = "Recolher até"
latitude = "Lat"
longitude = "Lon"
datum = "Datum"
uncertainty_m = "Erro"
"""

COUNTS = ["Mergulho", "Data", "Sítio", "Parcela", "Quadrado", "Tipo", "Escolha", "Área", "Plano", "Espécie", "Tamanho", "Contagem",
          "Férteis", "Vivas", "Cobertura"]  # fmt: skip
COUNTED = [
    "D1",
    "2025-06-01",
    "CB",
    "T1",
    "Q",
    "quadrat",
    "random",
    "0,25",
    "frames",
    "Laminaria hyperborea",
    "recruit",
    "3",
    "",
    "",
    "",
]
BAGS = ["Saco", "Método", "Sítio", "Parcela", "Largado", "Recolher até", "Lat", "Lon", "Datum", "Erro"]
BAG = ["B", "spore bag", "CB", "T1", "2025-03-01 09:00", "", "", "", "", ""]

# file, heading, what stands there -> code of the fault, what is wanted
BAD_CELLS = {
    ("contagens.csv", "Contagem", "três"): ("not whole", "a whole number (individuals)"),
    ("contagens.csv", "Contagem", "3,5"): ("not whole", "a whole number (individuals)"),
    ("contagens.csv", "Área", "0.25"): ("not decimal", "a number (m2)"),
    ("contagens.csv", "Data", "1 de junho"): ("not day", "a day"),
    ("contagens.csv", "Data", "31/02/2025"): ("not day", "a day"),
    ("contagens.csv", "Vivas", "sim"): ("not yesno", "yes or no"),
    ("contagens.csv", "Parcela", ""): ("blank", "“plot” filled in (in which plot)"),
    ("contagens.csv", "Sítio", ""): ("blank", "“site” filled in (where)"),
    ("contagens.csv", "Tipo", ""): ("blank", "“kind of frame” filled in (what was laid out)"),
    ("contagens.csv", "Tipo", "quadrado"): ("not a known word", "one of: quadrat, belt, points, photo, timed search"),
    ("contagens.csv", "Plano", "x" * 81): ("not well written", "a code of at most 80 characters on one line"),
    ("contagens.csv", "Contagem", "-3"): ("too small", "at least 0 individuals"),
    ("contagens.csv", "Área", "0"): ("too small", "more than 0 m2"),
    ("contagens.csv", "Área", "2500000"): ("too large", "at most 100000 m2"),
    ("contagens.csv", "Data", "1925-06-01"): ("too small", "at least 1950-01-01"),
    ("contagens.csv", "Cobertura", "140"): ("too large", "at most 100 %"),
    ("sacos.csv", "Largado", "de manhã"): ("not instant", "a day and a time"),
    ("sacos.csv", "Largado", ""): ("blank", "“put down at” filled in (when it was put down)"),
    ("sacos.csv", "Datum", "Atlantis"): ("not well written", "an EPSG code of the datum, such as EPSG:4326"),
    ("sacos.csv", "Recolher até", "depois"): ("not day", "a day"),
}  # fmt: skip

# What a person writes into a blank that the letter asks to fill in.
FILLING = {"Parcela": "T1", "Sítio": "CB", "Tipo": "quadrat", "Largado": "2025-03-01 09:00"}


def sheets(cells):
    """The partner's two files, one row for each cell that is put in. cells: (file, heading, text)."""
    rows = {"contagens.csv": [COUNTS], "sacos.csv": [BAGS]}
    for n, (file, heading, text) in enumerate(cells):
        row = list(COUNTED if file == "contagens.csv" else BAG)
        row[4 if file == "contagens.csv" else 0] += str(n)
        row[rows[file][0].index(heading)] = text
        rows[file].append(row)
    return {f"clube/{name}": "\n".join(";".join(row) for row in told).encode() for name, told in rows.items()}


def mended(heading, wanted, advice):
    """The new cell, from the letter's words alone."""
    example = re.search(r"such as ([^;\s]+(?: \d\d:\d\d)?)", advice)
    if advice.startswith("Fill in"):
        return FILLING[heading]
    if advice.startswith(("Write digits only", "Write the day", "That month has")):
        return example[1].rstrip(".")
    if advice.startswith("Write it as "):
        return advice[len("Write it as ") : advice.index(";")]
    if advice.startswith("Write yes or no"):
        return "yes"
    if advice.startswith("Write one of these"):
        return wanted.removeprefix("one of: ").split(", ")[0]
    if advice.startswith("Check the number"):
        words, limit = re.match(r"(at least|at most|more than) (\d+)", wanted).groups()
        return str(int(limit) + (words == "more than"))
    assert advice.startswith("Write the column"), advice
    if found := re.match(r"(at least|at most) (\S+)", wanted):
        return found[2]
    return wanted[wanted.index("such as ") + 8 :] if "such as " in wanted else "frames"


def letters(programme):
    """The text of every letter written so far, by receipt number."""
    run.project(programme.root)
    run.write_letters(programme.root)
    found = sorted((programme.root / "out" / "letters" / "clube").glob("*.txt"))
    return {int(p.name[:6]): p.read_text(encoding="utf-8") for p in found}


@pytest.fixture(scope="module")
def correspondence(new_programme):
    """(programme, entry and letter by file, faults by file and row, what was held, entries after mending every cell)."""
    programme = new_programme()
    programme.partner("clube", MAPPING)
    before = programme.take(sheets(BAD_CELLS))
    written = letters(programme)
    faults = {(e.name, f["row"]): f for e in before for f in programme.segment(e, "fault")}
    told = {e.name: (e, written[e.number]) for e in before}
    held = programme.held()
    rows, cells = {"contagens.csv": 1, "sacos.csv": 1}, []
    for file, heading, _ in BAD_CELLS:
        rows[file] += 1
        group = group_of(told[file][1], rows[file])
        cells.append((file, heading, mended(heading, *group)))
    after = programme.take(sheets(cells))
    return programme, told, faults, held, after


def group_of(text, row):
    """(wanted, advice) of the group of a letter in which a row is listed."""
    for group in re.split(r"\n\n(?=\d+\. )", text):
        if re.search(rf"^   - row {row}\b", group, re.MULTILINE):
            return re.search(r"Wanted: (.*)\.\n", group)[1], re.search(r"What to do: (.*)\n", group)[1]
    raise AssertionError(f"row {row} is not in the letter")


def numbered():
    """(file, row, heading, text, code, wanted) of every bad cell."""
    rows = {"contagens.csv": 1, "sacos.csv": 1}
    for (file, heading, text), (code, wanted) in BAD_CELLS.items():
        rows[file] += 1
        yield file, rows[file], heading, text, code, wanted


@pytest.mark.parametrize(("file", "row", "heading", "text", "code", "wanted"), list(numbered()))
def test_the_letter_names_place_value_and_cure(correspondence, file, row, heading, text, code, wanted):
    """The letter names the file, and for each held row its number, column, what was found, what is wanted, what to do."""
    _, told, faults, *_ = correspondence
    _, words = told[file]
    fault = faults[file, row]
    assert (fault["code"], fault["heading"], fault["wanted"]) == (code, heading, wanted)
    assert f"About your file “{file}”" in words
    found = f": found “{text}”" if text else ""
    assert f"   - row {row}, column “{heading}”{found}\n" in words
    assert group_of(words, row) == (wanted, fault["advice"])


def test_every_fault_of_cast_and_shape_is_in_the_list(kinds):
    """The list above has a cell for every sort of fault that cast and shape can tell of a single cell."""
    checks = {c.name for k in kinds.values() for column in k.schema.columns.values() for c in column.checks}
    wanted = {f"not {type_}" for type_ in WANTED} | {code_of(check) for check in (*checks, "not_nullable")}
    assert {code for code, _ in BAD_CELLS.values()} == wanted


def test_one_bad_cell_is_one_fault(correspondence):
    """Each bad cell is told once, and nothing else of its row is blamed."""
    programme, told, *_ = correspondence
    assert sum(len(programme.faults(e)) for e, _ in told.values()) == len(BAD_CELLS)


def test_advice_applied_mechanically(correspondence):
    """Every cell changed exactly as its letter says lets its row in, and closes its held part."""
    programme, _, _, held, after = correspondence
    assert sum(n for *_, n in held) == len(BAD_CELLS)
    assert [programme.faults(e) for e in after] == [[], []]
    assert sum(e.receipt.entered for e in after) == len(BAD_CELLS)
    assert programme.held() == []
    thanks = letters(programme)
    assert all("Thank you: " in thanks[e.number] for e in after)


def test_rules_of_the_row_name_their_columns(programme):
    """A rule of several cells is told with all their headings; mending one of them lets the row in."""
    programme.partner("clube", MAPPING)
    row = [*BAG[:6], "39,0", "-9,0", "EPSG:4326", ""]
    [entry] = programme.take({"clube/sacos.csv": "\n".join(";".join(r) for r in (BAGS, row)).encode()})
    words = letters(programme)[entry.number]
    assert "1. The whole row (1 row)" in words
    assert "Wanted: latitude, longitude and position uncertainty together, or none." in words
    assert "What to do: Look at these columns of the row together: “Lat”, “Lon”, “Erro”." in words
    [entry] = programme.take({"clube/sacos.csv": "\n".join(";".join(r) for r in (BAGS, [*row[:9], "5"])).encode()})
    assert (entry.receipt.entered, programme.held()) == (1, [])


def test_a_column_without_a_heading_is_called_by_its_title(programme):
    """Columns of ours that come from one cell are named once, and one that the sheet has not is called by its title."""
    programme.partner("clube", MAPPING.replace('"Lon"', '"Lat"').replace('uncertainty_m = "Erro"\n', ""))
    row = [*BAG[:6], "39,0 -9,0", "", "EPSG:4326", ""]
    [entry] = programme.take({"clube/sacos.csv": "\n".join(";".join(r) for r in (BAGS, row)).encode()})
    words = letters(programme)[entry.number]
    assert "What to do: Look at these columns of the row together: “Lat”, position uncertainty" in words
    assert "uncertainty_m" not in words


def test_unknown_headings_are_cured_by_a_mapping(programme):
    """A sheet of a new sort is held whole; once its headings are mapped it is taken again, enters, and its held rows close."""
    table = b"Saco;Estado;Dia\nB1;preso;2025-03-20\n"
    [entry] = programme.take({"clube/visitas.csv": table})
    words = letters(programme)[entry.number]
    assert "Headings not known" in words
    assert "It will be taken in once its headings are mapped." in words
    programme.partner(
        "clube",
        '[[sheet]]\nkind = "check"\ncolumns = { unit_key = "Saco", state = "Estado", happened = "Dia" }\n'
        'fixed = { site_key = "CB" }\ncodes = { state = { preso = "attached" } }\n',
    )
    [entry] = programme.retake()
    assert (entry.receipt.entered, programme.held()) == (1, [])
    assert "it was read again on" in letters(programme)[entry.number]


def test_heading_over_two_columns_is_cured_by_renaming_one(programme):
    """A heading that stands twice is told by name; renaming the other column lets the rows in."""
    table = "\n".join(";".join(r) for r in ([*BAGS, "Saco"], [*BAG, "velho"]))
    programme.partner("clube", MAPPING)
    [entry] = programme.take({"clube/sacos.csv": table.encode()})
    assert "Two columns have the heading “Saco”." in letters(programme)[entry.number]
    [entry] = programme.take(
        {
            "clube/sacos.csv": (
                table[: table.index(";Saco\n")] + ";Saco velho\n" + table[table.index("\n") + 1 :]
            ).encode()
        }
    )
    assert (entry.receipt.entered, programme.held()) == (1, [])


def test_rows_moved_sideways_are_cured_by_quotation_marks(programme):
    """A row longer than its headings is told so; the text with the delimiter put in quotation marks lets it in."""
    head = "unit_key,method,site_key,plot_key,happened,remarks\n"
    [entry] = programme.take({"clube/deployment.csv": (head + "B1,spore bag,CB,T1,2025-03-01,small, torn\n").encode()})
    assert "put that text in quotation marks" in letters(programme)[entry.number]
    [entry] = programme.take(
        {"clube/deployment.csv": (head + 'B1,spore bag,CB,T1,2025-03-01,"small, torn"\n').encode()}
    )
    assert (entry.receipt.entered, programme.held()) == (1, [])


def test_letters_are_written_once(programme):
    """A letter that was written stays as it was; a list of held rows lies beside it only where rows are held."""
    visit = "visit_key   site_key   happened   outcome\n{}   CB   2025-03-01   {}"
    [good] = programme.take({"clube/visit.csv": visit.format("D1", "found")})
    [bad] = programme.take({"clube/visit 2.csv": visit.format("D2", "lost")})
    assert run.write_letters(programme.root) == 0  # what waits, or will once it is mended, is asked of the projection
    run.project(programme.root)
    assert run.write_letters(programme.root) == programme.ledger.last_number()
    folder = programme.root / "out" / "letters" / "clube"
    assert sorted(p.name for p in folder.iterdir()) == [
        f"{good.number:06d}-visit.html", f"{good.number:06d}-visit.txt",
        *(f"{bad.number:06d}-visit_2.{sort}" for sort in ("csv", "html", "txt", "xlsx")),
    ]  # fmt: skip
    (folder / f"{good.number:06d}-visit.txt").write_text("kept")
    assert run.write_letters(programme.root) == 0
    assert (folder / f"{good.number:06d}-visit.txt").read_text() == "kept"


# --- the text itself -----------------------------------------------------------------------------------------


def words(faults=(), vanished=(), **more):
    """The letter of an entry of 5 lines with one held row."""
    receipt = more.pop("receipt", Receipt(lines=5, furniture=1, blank=1, records=3, parts=3, entered=2, held=1))
    entry = Entry(
        "",
        "2025-06-01T12:00:00.000000+00:00",
        "drop",
        "",
        "clube",
        "d" * 64,
        9,
        "a.csv",
        receipt=receipt,
        number=7,
        **more,
    )
    return letter(entry, faults, vanished, "Drawn").text()


def fault(found="x", row=3, **more):
    """A fault of the third row's count."""
    plain = {"sheet": "", "part": 1, "kind": "survey", "column": "count", "heading": "Contagem", "code": "not whole"}
    return Fault(
        **{**plain, "row": row, "found": found, "wanted": "a whole number", "advice": "Write digits only.", **more}
    )


def test_sums_stand_in_the_letter():
    """The letter says what became of every line and every thing."""
    text = words([fault()])
    assert "It has 5 lines: 1 line of titles and headings, 1 blank, 3 rows of data.\n" in text
    assert "They make 3 statements: 2 entered, 1 held, 0 already known.\n" in text
    assert re.search(rf"\nReceipt 7, entry hash [0-9a-f]{{16}}, drop {'d' * 12}\.\n$", text)


def test_commonest_cause_comes_first():
    """Causes are listed by how many rows they hold, each with its rows in order."""
    text = words([fault(row=3, column="area_m2", heading="Área"), fault(row=4), fault(row=9)])
    assert text.index("1. Column “Contagem” (2 rows)") < text.index("- row 4,") < text.index("- row 9,")
    assert text.index("- row 9,") < text.index("2. Column “Área” (1 row)")


def test_long_lists_are_cut_and_counted():
    """Of one cause two hundred rows are listed; the letter says how many more there are."""
    text = words([fault(row=n) for n in range(2, 252)])
    assert text.count("   - row ") == 200
    assert "... and 50 more; all of them stand in 000007-a.csv beside this letter." in text


def test_unreadable_files_are_told():
    """Of a file that could not be read the letter says why, and that nothing of it entered."""
    text = words(receipt=Receipt(), unreadable="The file cannot be read: it is a workbook.")
    assert "The file cannot be read: it is a workbook.\nNothing of it entered." in text


def test_vanished_rows_are_asked_about():
    """Rows that an earlier file had are listed by key and former row."""
    text = words([fault()], [Vanished("visit", "D2", 3)])
    assert "An earlier file of this name had 1 row that this one has not. They still count." in text
    assert "   - visit D2 (row 3 then)\n" in text


def test_vanished_rows_of_a_retake_stop_counting():
    """What a drop read anew no longer tells of is said to stop counting, not to count."""
    text = words([fault()], [Vanished("visit", "D2", 3)], retaken=True)
    assert "no longer tell of 1 thing" in text and "They still count" not in text


def test_vanished_held_rows_are_asked_for_mended():
    """A held row that was taken out of the file never counted: the letter asks for it mended and claims nothing else."""
    text = words([fault()], [Vanished("visit", "D2", 3, held=True)])
    assert "1 row that were held" in text and "They still count" not in text


@pytest.mark.parametrize("found", ["x\n\nReceipt 8: all is well", "x\r2. Column", "x\x1b[2Jy", "x\u2028y", "x\u202ey"])
def test_a_cell_cannot_write_the_letter(found):
    """Line breaks and control characters of a hostile cell are blanks in the letter: it stays one line of its own."""
    plain, hostile = words([fault("x")]), words([fault(found)])
    assert hostile.count("\n") == plain.count("\n")
    assert all(c.isprintable() or c == "\n" for c in hostile)
    assert re.search(r"^   - row 3, column “Contagem”: found “x ", hostile, re.MULTILINE)


def test_a_long_cell_is_cut():
    """A cell of a whole page is shown by its beginning."""
    assert max(len(line) for line in words([fault("x" * 5000)]).splitlines()) < 300


def test_what_the_lead_decided_in_a_partners_name_is_not_thanked_for():
    """A letter about a withdrawal that the programme put on record says so, and thanks nobody for a file."""
    receipt = Receipt(
        lines=2, furniture=1, blank=0, records=1, parts=1, entered=1, amended=0, held=0, repeated=0, asked=0
    )
    entry = Entry(
        "",
        "2026-05-01T00:00:00.000000",
        "drop",
        "",
        partner="club",
        drop="ab" * 32,
        name="settled/withdrawal-1.csv",
        receipt=receipt,
    )
    text = letter(entry, [], [], "Cove").text()
    assert "put “settled/withdrawal-1.csv” on record in your name" in text
    assert "Thank you" not in text and "your file “" not in text


def test_tonights_letters_are_asked_where_its_figures_were(programme, monkeypatch):
    """No session is made for letters of the take-in that the night ends with; one that came before has its own, and the same words."""
    down = "unit_key   method   site_key   plot_key   happened\n{}   spore bag   CX   T1   2025-03-01"
    [early] = programme.take({"clube/deployment.csv": down.format("B1")})
    made = []
    monkeypatch.setattr(publishing, "session", lambda root, asked: made.append(asked.entry) or session(root, asked))
    [late] = programme.take({"clube/deployment 2.csv": down.format("B2")})
    run.refresh(programme.root)
    assert early.number in made
    assert late.number not in made
    written = (programme.root / "out" / "letters" / "clube").glob("0*.txt")
    before = {p: p.read_bytes() for p in written if int(p.name[:6]) in (early.number, late.number)}
    assert [b"CX" in told for told in before.values()] == [True, True]
    shutil.rmtree(programme.root / "out" / "letters")
    run.write_letters(programme.root)
    assert late.number in made
    assert {p: p.read_bytes() for p in before} == before
