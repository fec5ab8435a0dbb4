"""What stands in a letter is what its reader can act on: with the sheet that it has, in its own language."""

import csv
import datetime as dt
import io
from dataclasses import replace
from decimal import ROUND_CEILING, ROUND_FLOOR, Decimal
from fractions import Fraction

import pytest
from blanks import filled, made
from openpyxl import load_workbook

from pipeline import run
from pipeline.check.words import Unit
from pipeline.ledger.entry import Entry, Receipt
from pipeline.outputs import letters
from pipeline.outputs.about import letters_seen
from pipeline.outputs.words import words
from pipeline.spoken import contact_of
from pipeline.tongue import LANGUAGES
from pipeline.trying import try_file, write_tried

FOOT = Unit("ft", Fraction(3048, 10000), Fraction(0))
BAGS = """
    Merke   Dato         Sted   Felt   Masse   Merknad
    P1      01/03/2025   CB     T1     mye     .
    P2      01/03/2025   CB     T1     12      .
"""
MAPPING = """
language = "nb"
decimal = ","
dates = "DMY"

[[sheet]]
files = ["poser*.csv"]
kind = "deployment"
[sheet.columns]
unit_key = "Merke"
happened = "Dato"
site_key = "Sted"
plot_key = "Felt"
mass_kg = "Masse"
[sheet.fixed]
method = "spore bag"
"""
REMARKS = MAPPING.replace("[sheet.fixed]", 'remarks = "Merknad"\n[sheet.fixed]')


def letter(programme, file, partner="klubb", sort="txt"):
    """The newest letter about a file, on one line."""
    run.refresh(programme.root)
    path = sorted((programme.root / "out/letters" / partner).glob(f"*-{file}.{sort}"))[-1]
    return " ".join(path.read_text(encoding="utf-8").split())


@pytest.mark.parametrize(
    ("mapping", "advice"),
    [
        (
            MAPPING,
            "Skriv bare sifre, som 12,5. Tvil og notater kan stå ved siden av i en egen kolonne, som tas vare på",
        ),
        (REMARKS, "Skriv bare sifre, som 12,5; sett enheter, tvil og notater i kolonnen «Merknad»."),
    ],
)
def test_notes_go_where_the_sheet_has_room(programme, mapping, advice):
    """Where doubts and notes may stand is told by the partner's own heading for them; where it has none, a column of its own is advised."""
    programme.partner("klubb", mapping)
    programme.take({"klubb/poser.csv": BAGS})
    assert advice in letter(programme, "poser")


@pytest.mark.parametrize("language", LANGUAGES)
def test_a_letters_last_line_is_read_in_every_language(tmp_path, language):
    """The last line is told in the letter's language, and by it the letter witnesses its entry; so do letters of old, told in English."""
    entry = Entry(
        previous="",
        recorded="2025-03-01T00:00:00+00:00",
        what="drop",
        rules="",
        number=12,
        partner="klubb",
        drop="3" * 64,
    )
    paper = letters.letter(entry, [], [], "Drawn", language=language)
    folder = tmp_path / "out/letters/klubb"
    folder.mkdir(parents=True)
    (folder / "000012-a.txt").write_text(paper.text())
    seen = letters._hash_of(entry)[:16]
    old = f"Receipt 12, entry hash {seen}, drop {'3' * 12}."
    (folder / "000012-b.txt").write_text(f"A letter\n{old}\n")
    assert [told for _, told in letters_seen(tmp_path / "out", 12)] == [(12, seen)] * 2
    assert (old in paper.text()) == (language == "en")
    assert "Whether anything of yours is open now stands in standing.html." in paper.text() or language != "en"


def test_the_list_of_held_rows_is_named_and_in_the_partners_language(new_programme, tmp_path):
    """The letter leads to the list beside it; its headings and reasons are the partner's, and a spreadsheet of that language parts its cells."""
    programme = new_programme()
    programme.partner("klubb", MAPPING)
    programme.take({"klubb/poser.csv": BAGS})
    text = letter(programme, "poser")
    [path] = (programme.root / "out/letters/klubb").glob("*-poser.csv")
    assert f"står også som tabell i {path.name} ved siden av" in text
    assert f'<a href="{path.name}">{path.name}</a>' in letter(programme, "poser", sort="html")
    rows = list(csv.reader(io.StringIO(path.read_bytes().decode("utf-8-sig")), delimiter=";"))
    assert path.read_bytes()[:3] == b"\xef\xbb\xbf"
    assert rows[0] == ["Ark", "Rad", "Slag", "Kolonne", "Slags feil", "Funnet", "Ønsket", "Hva dere gjør"]
    assert rows[1][1:7] == ["2", "utsetting", "Masse", "ikke et tall", "mye", "et tall (kg)"]
    tried = write_tried(try_file(programme.root, programme.root / "inbox/klubb/poser.csv", "klubb"), tmp_path)
    assert "poser.held.csv" in {p.name for p in tried} and "tabell i poser.held.csv" in tried[0].read_text()


@pytest.mark.parametrize(
    ("language", "day", "month", "plot"),
    [
        ("en", "28 Nov 2026", "Nov 2026", "the plot T3 is not known yet"),
        ("es", "28 nov 2026", "nov 2026", "la parcela T3 aún no se conoce"),
        ("pt", "28 de nov. de 2026", "nov. de 2026", "a parcela T3 ainda não é conhecida"),
        ("fr", "28 nov. 2026", "nov. 2026", "la parcelle T3 n'est pas encore connue"),
        ("nb", "28. nov. 2026", "nov. 2026", "feltet T3 er ennå ikke kjent"),
    ],
)
def test_days_and_things_are_told_as_people_write(language, day, month, plot):
    """Days and months are those of the language's own short form, and what nobody knows is named with its article and gender."""
    told = dt.date(2026, 11, 28)
    assert (words(language).day(told), words(language).month(told)) == (day, month)
    assert words(language).again("the plot T3 is not known yet") == plot


def test_one_statement_changes():
    """A letter about a single change says that it changes, of several that they change; thirty-four statements are thirty-four of a kind."""
    about = Entry(
        previous="",
        recorded="2025-03-01T00:00:00+00:00",
        what="drop",
        rules="",
        number=3,
        partner="klubb",
        drop="3" * 64,
    )
    one, two = (replace(about, receipt=Receipt(parts=34, entered=34, amended=n)) for n in (1, 2))
    assert "(1 of them changes what stood before)" in letters.letter(one, [], [], "Drawn").text()
    assert "(2 of them change what stood before)" in letters.letter(two, [], [], "Drawn").text()
    assert "Contêm 34 registos: 34 entraram (1 deles muda" in " ".join(
        letters.letter(one, [], [], "D", language="pt").text().split()
    )


def test_a_partner_takes_back_in_its_own_language(new_programme):
    """The letter names the blank sheet for taking back as it is called in the partner's language, its kind and key too; that sheet,
    filled in with them, takes the row back."""
    programme = new_programme()
    programme.partner("klubb", MAPPING)
    programme.take(
        {
            "klubb/sjekk.csv": "site_key   unit_key   happened   state   search_time_min\nCB   X 1   2025-04-05   attached   5"
        }
    )
    text = letter(programme, "sjekk")
    assert "det tomme arket «Trukket tilbake»" in text and "rad 2: check (sjekk); CB 2025-04-05 1 | X 1" in text
    row = {"Dato": dt.date(2025, 6, 1), "Slag": "sjekk", "Nøkkel": "CB 2025-04-05 1 | X 1", "Grunn": "skrivefeil"}
    [entry] = programme.take(
        {"klubb/bort.xlsx": filled(made(programme.root, "klubb", ["withdrawal"]), {"Trukket tilbake": [row]})}
    )
    assert entry.receipt.entered == 1 and programme.ask("select * from check_now") == []


def test_a_blank_sheet_says_when_its_lists_were_last_told(new_programme, monkeypatch):
    """The lists of a blank sheet are those of the day on which the last file came in, not of the last day in the sea."""
    programme = new_programme()
    monkeypatch.setattr(run, "this_instant", lambda: dt.datetime(2027, 10, 5, 12, tzinfo=dt.UTC))
    programme.take(
        {
            "klubb/poser.csv": "unit_key   method   site_key   plot_key   happened\nCB-1   spore bag   CB   T1   2025-03-01"
        }
    )
    run.project(programme.root)
    page = load_workbook(io.BytesIO(made(programme.root, "klubb", ["check"]))).worksheets[1]
    told = " ".join(str(c) for row in page.iter_rows(values_only=True) for c in row if c)
    assert "The lists hold what was known on 5 Oct 2027." in told


DIVES = """
language = "nb"
decimal = ","
dates = "DMY"

[[sheet]]
files = ["dykk*.csv"]
kind = "visit"
columns = { visit_key = "Dykk", happened = "Dato", site_key = "Sted", outcome = "Funn", water_temp_degc = "Grader", max_depth_m = "Dyp" }
units = { water_temp_degc = "degF", max_depth_m = "ft" }
"""


def test_a_limit_is_told_in_the_partners_unit(new_programme):
    """Who writes degrees Fahrenheit and feet reads limits in them, rounded so that what they allow is allowed, ours in brackets."""
    programme = new_programme()
    programme.partner("klubb", DIVES)
    rows = "D1   01/03/2025   CB   found   200   30\nD2   01/03/2025   CB   found   50   900\nD3   01/03/2025   CB   found   50   dypt"
    programme.take({"klubb/dykk.csv": f"Dykk   Dato   Sted   Funn   Grader   Dyp\n{rows}"})
    text = letter(programme, "dykk")
    assert "Ønsket: høyst 113 degF (45 degC)." in text and "enhet (degF)." in text
    assert "Ønsket: høyst 656,16 ft (200 m)." in text
    assert "Ønsket: et tall (ft)." in text
    assert words("pt").again("at least 28.41 degF (-2 degC)") == "pelo menos 28,41 degF (-2 degC)"


@pytest.mark.parametrize(
    ("limit", "rounding", "unit", "told"),
    [
        ("130", ROUND_FLOOR, FOOT, "426.5"),
        ("100", ROUND_FLOOR, FOOT, "328.08"),
        ("0.001", ROUND_CEILING, FOOT, "0.00329"),
        ("0", ROUND_CEILING, FOOT, "0"),
    ],
)
def test_limits_are_rounded_inward(limit, rounding, unit, told):
    """A limit turned into another unit is never wider than it is, and has two places or three digits."""
    assert unit.of(Decimal(limit), rounding) == told


def test_whom_to_ask_is_told(new_programme):
    """Letters, trials and pages say where the programme is written to, as programme.toml has it; where it has nothing, by role."""
    programme = new_programme()
    programme.take({"klubb/poser.csv": BAGS})
    assert "To ask or tell the programme something, turn to whoever leads it." in letter(programme, "poser")
    toml = (programme.root / "programme.toml").read_text(encoding="utf-8")
    programme.rules(toml + '\n[publishing]\norganisation = "Outer Isles kelp"\nemail = "kelp@isles.example"\n')
    file = programme.put("klubb", "poser 2.csv", BAGS.replace("P", "Q"))
    asked = "To ask or tell the programme something, write to Outer Isles kelp, kelp@isles.example."
    assert asked in " ".join(try_file(programme.root, file, "klubb").letter.text().split())
    programme.take()
    assert asked in letter(programme, "poser_2") and asked not in letter(programme, "poser")
    page = (programme.root / "out/letters/klubb/standing.txt").read_text(encoding="utf-8")
    assert asked in " ".join(page.split())
    assert contact_of(b'[publishing]\norganisation = "No address"') == contact_of(b"publishing = 3") == ""
