"""A blank sheet that comes back is read by its own word, whatever became of it on the way."""

import ast
import csv
import io
import re
from decimal import Decimal
from pathlib import Path

import blanks
import openpyxl
import pytest
from blanks import DAY, FIRST, HEAD, ROWS

from pipeline import run
from pipeline.blanking import desk, way
from pipeline.blanks.columns import FIELD, OFFERED, READ_AS_WRITTEN, TITLES
from pipeline.blanks.words import words
from pipeline.errors import BadUsage
from pipeline.intake.form_marks import read_form
from schemas.kinds import all_kinds

LANGUAGES = ("en", "es", "pt", "fr", "nb")


@pytest.fixture(scope="module")
def sea(new_programme):
    """A programme whose registers are projected; the club has an inbox and no mapping."""
    programme = new_programme()
    (programme.root / "inbox" / "club").mkdir()
    run.project(programme.root)
    return programme


def as_typed(at, kind, row):
    """A row under the headings and in the words of a blank sheet."""
    [part] = way(at, kind).sheet.parts
    words = {c: {ours: theirs for theirs, ours in codes.items()} for c, codes in part.codes.items()}
    return {part.headings[c]: words.get(c, {}).get(v, v) for c, v in row.items()}


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_kind_filled_in_enters_without_a_mapping(new_programme, language):
    """A good row typed into a blank sheet of every kind enters from one workbook in any language, and nothing is held."""
    programme = new_programme()
    (programme.root / "inbox" / "club").mkdir()
    at = desk(programme.root, "club", language)
    data = blanks.blank(at, list(ROWS))
    typed = {name: [as_typed(at, kind, ROWS[kind])] for name, kind in zip(tabs(data), ROWS, strict=False)}
    [entry] = programme.take({"club/Copy of Mappe (2).xlsx": blanks.filled(data, typed)})
    assert programme.faults(entry) == []
    assert (entry.receipt.entered, entry.receipt.held, entry.notes) == (len(ROWS), 0, ())
    assert entry.receipt.holds()
    for kind, row in ROWS.items():
        [event] = programme.segment(entry, kind)
        for column, value in row.items():
            assert same(event[column], value), (kind, column, event[column], value)


def tabs(data):
    return openpyxl.load_workbook(io.BytesIO(data)).sheetnames


def same(stored, typed):
    """Whether a value is what was typed: yes for True, a day for the midnight that a day is read as."""
    if typed in ("yes", "no"):
        return stored is (typed == "yes")
    if hasattr(typed, "hour"):
        return stored is not None and abs((stored - typed).total_seconds()) <= 3600  # the programme's summer time
    return (
        stored == typed
        or (typed == DAY and stored is None)
        or (stored is not None and float(stored) == typed if isinstance(typed, float) else False)
    )


MAPPING = """
language = "nb"
decimal = ","
dates = "DMY"
[codes.state]
"sitter" = "attached"
"borte" = "absent"
[codes.species]
"tare" = "Laminaria hyperborea"
[[sheet]]
files = ["sjekk*.txt"]
kind = "check"
[sheet.columns]
happened = "Dato"
site_key = "Sted"
unit_key = "Merke \\"nr\\""
state = "Tilstand"
area_searched_m2 = "Lett (cm2)"
[sheet.units]
area_searched_m2 = "cm2"

[[sheet]]
files = ["ruter*.txt"]
[[sheet.part]]
kind = "survey"
columns = { happened = "Dato", site_key = "Sted", plot_key = "Felt", frame_key = "Rute", area_m2 = "Areal", count = "Spirer" }
fixed = { species = "Laminaria hyperborea", stage = "recruit", frame_type = "quadrat", placement = "random", protocol = "frames" }
[[sheet.part]]
kind = "survey"
columns = { happened = "Dato", site_key = "Sted", plot_key = "Felt", frame_key = "Rute", area_m2 = "Areal", count = "Unge" }
fixed = { species = "Laminaria hyperborea", stage = "juvenile", frame_type = "quadrat", placement = "random", protocol = "frames" }
"""
CHECK = {"Dato": DAY, "Sted": "CB", 'Merke "nr"': "CB-1", "Tilstand": "borte", "Lett (cm2)": 2500}


@pytest.fixture
def lag(new_programme):
    """A partner with a mapping, and a blank workbook of checks and frames made by it."""
    programme = new_programme()
    programme.partner("lag", MAPPING)
    (programme.root / "inbox" / "lag").mkdir()
    return programme, blanks.made(programme.root, "lag", ["check", "survey"])


def test_a_partners_own_headings_codes_and_units(lag):
    """A blank sheet of a partner with a mapping has its headings, its words and its units, and reads them as the mapping would."""
    programme, data = lag
    assert tabs(data)[:2] == ["sjekk", "ruter"]
    rows = {
        "sjekk": [CHECK],
        "ruter": [{"Dato": DAY, "Sted": "CB", "Felt": "T1", "Rute": "1", "Areal": 0.25, "Spirer": 3, "Unge": 0}],
    }
    [entry] = programme.take({"lag/a.xlsx": blanks.filled(data, rows)})
    assert (programme.faults(entry), entry.notes) == ([], ())
    [check] = programme.segment(entry, "check")
    assert (check["state"], float(check["area_searched_m2"]), check["unit_key"]) == ("absent", 0.25, "CB-1")
    assert [(s["stage"], s["count"]) for s in programme.segment(entry, "survey")] == [("recruit", 3), ("juvenile", 0)]


def test_days_are_shown_as_each_sheet_writes_them(lag):
    """Where a partner writes days otherwise in one of its sheets, cells, checks and the example of that sheet do so too."""
    programme, _ = lag
    programme.partner("lag", MAPPING.replace('files = ["ruter*.txt"]', 'files = ["ruter*.txt"]\ndates = "YMD"'))
    programme.take({"club/visit.csv": "visit_key   site_key   happened     outcome\nV1   CB   2025-07-20   found"})
    run.project(programme.root)
    book = openpyxl.load_workbook(io.BytesIO(blanks.made(programme.root, "lag", ["check", "survey"])))
    assert {c.number_format for c in book["sjekk"][6]} >= {"dd/mm/yyyy"} and {
        c.number_format for c in book["ruter"][6]
    } >= {"yyyy-mm-dd"}
    told = [row[3].value for row in book["Veiledning"].iter_rows() if row[0].value == "Dato"]
    assert told == ["20/07/2025", "2025-07-20"]


def test_a_blank_of_an_older_mapping_still_reads(lag):
    """What was handed out before a mapping changed is read as it was meant then."""
    programme, data = lag
    programme.partner("lag", MAPPING.replace("cm2", "m2").replace('"borte"', '"vekk"').replace("Tilstand", "Status"))
    [entry] = programme.take({"lag/a.xlsx": blanks.filled(data, {"sjekk": [CHECK]})})
    [check] = programme.segment(entry, "check")
    assert (check["state"], float(check["area_searched_m2"])) == ("absent", 0.25)


def test_another_partner_may_hand_it_in(lag):
    """A form handed in by somebody else is that partner's word, read as the form says."""
    programme, data = lag
    [entry] = programme.take({"club/a.xlsx": blanks.filled(data, {"sjekk": [CHECK]})})
    assert [(c["partner"], c["state"]) for c in programme.segment(entry, "check")] == [("club", "absent")]


def changed(data, change):
    book = openpyxl.load_workbook(io.BytesIO(blanks.filled(data, {"sjekk": [CHECK]})))
    change(book["sjekk"])
    return blanks.saved(book)


def add_a_column(sheet):
    sheet.cell(HEAD, len(blanks.headings(sheet)) + 1, "Our notes")
    sheet.cell(FIRST, len(blanks.headings(sheet)), "windy")


def put_the_last_first(sheet):
    rows = [[(c.value, c.number_format) for c in row] for row in sheet.iter_rows(min_row=1, max_row=FIRST)]
    for at, row in enumerate(rows, 1):
        for n, (value, shown) in enumerate(row[::-1], 1):
            sheet.cell(at, n, value).number_format = shown


def take_out_what_is_not_needed(sheet):
    sheet.delete_cols(blanks.headings(sheet).index("Lett (cm2)") + 1)


@pytest.mark.parametrize(
    "change",
    [
        add_a_column,
        put_the_last_first,
        take_out_what_is_not_needed,
        lambda s: s.insert_rows(2, 3),
        lambda s: s.insert_rows(7, 4),
    ],
)
def test_what_people_do_to_a_sheet(lag, change):
    """Columns added, put in another order or taken out, and rows put in, change nothing of what is read."""
    programme, data = lag
    [entry] = programme.take({"lag/a.xlsx": changed(data, change)})
    assert (programme.faults(entry), entry.receipt.entered) == ([], 1)
    [check] = programme.segment(entry, "check")
    assert (check["unit_key"], check["state"]) == ("CB-1", "absent")


def test_a_heading_that_was_renamed_is_asked_about(lag):
    """A heading that is gone while an unknown one stands there holds the rows, which names it: no value is lost unseen."""
    programme, data = lag

    def rename(sheet):
        sheet.cell(HEAD, blanks.headings(sheet).index("Lett (cm2)") + 1, "Lett cm")

    [entry] = programme.take({"lag/a.xlsx": changed(data, rename)})
    [fault] = programme.segment(entry, "fault")
    assert (fault["code"], fault["row"]) == ("heading renamed", FIRST)
    assert "Lett (cm2)" in fault["found"] and "Lett (cm2)" in fault["advice"]


def as_csv(data, tab, delimiter=",", half="1.5"):
    """A sheet as a program saves it as text, with its decimal mark."""
    out = io.StringIO()
    writer = csv.writer(out, delimiter=delimiter, lineterminator="\r\n")
    for row in openpyxl.load_workbook(io.BytesIO(data))[tab].iter_rows(values_only=True):
        texts = ["" if c is None else c.strftime("%d/%m/%Y") if hasattr(c, "strftime") else str(c) for c in row]
        writer.writerow([half if t == "1.5" else t for t in texts])
    return out.getvalue()


@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
@pytest.mark.parametrize("encoding", ["utf-8-sig", "cp1252", "utf-16"])
def test_saved_as_text(lag, delimiter, encoding):
    """A sheet saved as text, however its cells are parted and its letters encoded, is read by the line in it."""
    programme, data = lag
    text = as_csv(blanks.filled(data, {"sjekk": [CHECK | {"Tilstand": "sitter"}]}), "sjekk", delimiter)
    [entry] = programme.take({f"lag/liste-{delimiter!r}.csv": text.encode(encoding)})
    assert programme.faults(entry) == []
    assert [c["state"] for c in programme.segment(entry, "check")] == ["attached"]


@pytest.mark.parametrize(("half", "typed"), [("1.5", "2500.5"), ("1,5", "2500,5")])
def test_the_sheet_shows_its_decimal_mark(lag, half, typed):
    """Numbers of a text file are read with the mark with which its own one and a half is written, whatever the form supposed."""
    programme, data = lag
    text = as_csv(blanks.filled(data, {"sjekk": [CHECK | {"Lett (cm2)": typed}]}), "sjekk", ";", half)
    [entry] = programme.take({"lag/liste.csv": text.encode()})
    [check] = programme.segment(entry, "check")
    assert float(check["area_searched_m2"]) == 0.25005


def test_no_blank_sheet_without_a_partner(sea):
    """A partner without inbox and mapping, a kind without blank sheet and an unknown language are refused with the cure."""
    for partner, kinds, language, says in (
        ("nobody", ["check"], "", "inbox/nobody"),
        ("club", ["ruling"], "", "There are: site"),
        ("club", ["check"], "de", "en, es"),
    ):
        with pytest.raises(BadUsage, match=says):
            blanks.made(sea.root, partner, kinds, language)


HOSTILE = [
    "wrackline-form 1 {", "wrackline-form 1 []", "wrackline-form 1 " + "[" * 20_000, 'wrackline-form 1 {"part": 3}',
    'wrackline-form 1 {"part": [3]}', 'wrackline-form 1 {"part": [{"kind": "check", "columns": {"no_such": "A"}}]}',
    'wrackline-form 1 {"part": [{"kind": "check", "wide": {"pattern": "(a+)+$", "cell": "count"}}]}',
    'wrackline-form 1 {"part": [{"kind": "check"}], "files": ["*"]}', 'wrackline-form 2 {"part": []}',
    'wrackline-form 1 {"part": [{"kind": "check", "columns": {"state": "\\u0000state", "unit_key": "U"}}]}',
    'wrackline-form 1 {"part": [{"kind": "check", "columns": {"state": "\\ud800", "unit_key": "U"}}]}',
    'wrackline-form 1 {"timezone": "Moon/Sea", "part": [{"kind": "check", "columns": {"state": "S", "unit_key": "U"}}]}',
]  # fmt: skip


@pytest.mark.parametrize("text", HOSTILE, ids=range(len(HOSTILE)))
def test_a_line_that_cannot_be_read_is_none(text):
    """A first line that is damaged, of a newer Wrackline, or asks for more than a form may, is no form, and never an error."""
    assert read_form(text, all_kinds()) is None


# --- lists and checks ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_limited_column_is_checked(sea, language):
    """In a blank sheet of every kind each column with words, limits or a day has a check of it, a message before and one after."""
    at = desk(sea.root, "club", language)
    book = openpyxl.load_workbook(io.BytesIO(blanks.blank(at, list(ROWS))))
    for kind, tab in zip(ROWS, book.sheetnames, strict=False):
        sheet, [part] = book[tab], way(at, kind).sheet.parts
        heads = {h: sheet.cell(FIRST, n).coordinate for n, h in enumerate(blanks.headings(sheet), 1)}
        for name, heading in part.headings.items():
            column = all_kinds()[kind].column(name)
            [check] = [v for v in sheet.data_validations.dataValidation if heads[heading] in v.sqref]
            assert (
                check.showErrorMessage
                and check.showInputMessage
                and check.error
                and check.prompt
                and len(check.prompt) <= 255
            )
            if column.allowed or column.type == "yesno":
                wanted = column.allowed or ("yes", "no")
                assert (check.type, check.errorStyle) == ("list", "stop")
                assert [part.codes.get(name, {}).get(w, w) for w in listed(book, check.formula1)] == list(wanted)
            elif column.type in ("day", "instant"):
                assert check.type == "date" and check.formula1 == "DATE(1950,1,1)"
                assert ("TODAY()" in check.formula2) is (
                    name not in ("retrieve_by", "valid_from", "valid_to", "report_due")
                )
            elif column.type in ("whole", "decimal"):
                told = " ".join(str(f) for f in (check.formula1, check.formula2))
                assert check.type in ("whole", "decimal", "custom")
                assert all(
                    f"{Decimal(str(v)).normalize():f}" in told for k, v in column.limits.items() if k != "pattern"
                )


def listed(book, name):
    """The words of a named list."""
    tab, cells = next(iter(book.defined_names[name].destinations))
    return [row[0].value for row in book[tab][cells]] if ":" in cells else [book[tab][cells].value]


def test_lists_are_the_programmes_own(sea):
    """Sites, species, donor beds and protocols are chosen from what the programme has registered; plots from those of the site."""
    book = openpyxl.load_workbook(io.BytesIO(blanks.made(sea.root, "club", ["survey", "collection"])))
    formulas = {v.promptTitle: v.formula1 for v in book["Frames counted"].data_validations.dataValidation}
    assert listed(book, formulas["Site"]) == ["CB", "NP"]
    assert listed(book, formulas["Species"]) == ["Laminaria hyperborea"]
    assert listed(book, formulas["Protocol"]) == ["frames"]
    assert formulas["Plot"].startswith("IF(COUNTIF(") and "OFFSET(" in formulas["Plot"] and len(formulas["Plot"]) <= 255
    assert book["Lists"].sheet_state == "hidden"


def test_limits_are_in_the_partners_unit(new_programme):
    """A depth of at most 200 m is one of at most 656.167979 ft, rounded to the safe side (a foot is 0.3048 m, NIST SP 811)."""
    programme = new_programme()
    programme.partner(
        "lag",
        '[[sheet]]\nkind = "visit"\ncolumns = { happened = "D", site_key = "S", outcome = "O", max_depth_m = "Ft" }\nunits = { max_depth_m = "ft" }\n',
    )
    book = openpyxl.load_workbook(io.BytesIO(blanks.made(programme.root, "lag", ["visit"])))
    [check] = [v for v in book.worksheets[0].data_validations.dataValidation if v.promptTitle == "Ft"]
    assert (check.type, check.formula1, check.formula2) == ("decimal", "0", "656.167979")


@pytest.mark.parametrize("language", LANGUAGES[1:])
def test_blank_sheets_are_translated(language):
    """Every title, word and sentence of a blank sheet is there in every language, with the same {names}, and no two headings or
    words of one column are the same."""
    texts = words(language).texts
    columns = {(k, c): all_kinds()[k].column(c) for k, cs in FIELD.items() for c in cs}
    wanted = {c.title for c in columns.values()} | {*TITLES.values(), "yes", "no"}
    usual = {w for name, ws in OFFERED.items() if name not in READ_AS_WRITTEN for w in ws} - {"kg"}
    wanted |= (
        usual | {w for c in columns.values() for w in c.allowed if not w.replace(".", "").isdigit()} | said_in_code()
    )
    assert wanted - texts.keys() == set()
    for text, told in texts.items():
        assert set(re.findall(r"\{\w+\}", text)) == set(re.findall(r"\{\w+\}", told)), text
    for kind, names in FIELD.items():
        heads = [texts[all_kinds()[kind].column(n).title] for n in names]
        assert len(set(heads)) == len(heads), (kind, heads)
    for column in columns.values():
        told = [texts.get(w, w) for w in column.allowed]
        assert len(set(told)) == len(told), told


def said_in_code():
    """Every text that the code says to whoever fills in."""
    found = set()
    for path in [*Path("pipeline/blanks").glob("*.py"), Path("pipeline/blanking.py"), Path("pipeline/blank_visits.py")]:
        for node in ast.walk(ast.parse(path.read_text())):
            if (
                isinstance(node, ast.Call)
                and getattr(node.func, "attr", getattr(node.func, "id", "")) == "said"
                and isinstance(node.args[0], ast.Constant)
            ):
                found.add(node.args[0].value)
    return found


def test_pages_beside_the_data_are_none(lag):
    """The pages of instructions and lists are no data, also when one of them is saved as text and handed in alone."""
    programme, data = lag
    [book] = programme.take({"lag/all.xlsx": blanks.filled(data, {"sjekk": [CHECK]})})
    assert [(s.name, s.header_row) for s in book.sheets][2:] == [("Veiledning", 0), ("Lister", 0)]
    [page] = programme.take({"lag/page.csv": as_csv(data, "Veiledning").encode()})
    assert (page.receipt.parts, page.receipt.held, page.unreadable) == (0, 0, "")
