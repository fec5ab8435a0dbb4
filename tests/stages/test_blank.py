"""A blank sheet that comes back is read by its own word, whatever became of it on the way."""

import csv
import io

import blanks
import openpyxl
import pytest
from blanks import DAY, FIRST, HEAD, ROWS

from pipeline import run
from pipeline.blanking import desk, way
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
