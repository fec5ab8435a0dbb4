"""What was taken in and does not count yet: letters, pages and trials say so, and what may be meant; a partner alone can mend it."""

import datetime as dt
import shutil
from dataclasses import replace

import pytest
from openpyxl import load_workbook

from pipeline import run
from pipeline.cli import main
from pipeline.intake.near import meant, names_of
from pipeline.meant import _meant
from pipeline.outputs.waiting_told import waiting_lines
from pipeline.outputs.words import words
from pipeline.publishing import ends_of_take_ins
from pipeline.trying import try_file
from pipeline.unsettled import Waiting

BAGS = """
    unit_key   method      site_key   plot_key   happened
    CB-1       spore bag   CB         T1         2025-03-01
    CB-2       spore bag   Cvoe       T1         2025-03-01
    CB-3       spore bag   cb         T1         2025-03-01
    CB-4       spore bag   Reef       T1         2025-03-01
"""
CHECKS = """
    site_key   unit_key   happened     state      search_time_min
    CB         cb 1       2025-04-05   attached   5
    CB         CB-9       2025-04-05   attached   5
"""
MAPPING = """
[[sheet]]
files = ["turer*"]
kind = "visit"
[sheet.columns]
visit_key = "Tur"
happened = "Dato"
site_key = "Sted"
outcome = "Funn"
"""


def plain(path):
    """A text without its line breaks."""
    return " ".join(path.read_text(encoding="utf-8").split())


def letter(programme, file, partner="clube"):
    """The newest letter about a file."""
    return plain(sorted((programme.root / "out/letters" / partner).glob(f"*-{file}.txt"))[-1])


def page(programme, partner="clube"):
    """A partner's page of what is open."""
    return plain(programme.root / "out/letters" / partner / "standing.txt")


@pytest.fixture(scope="module")
def told(new_programme):
    """To look at only: bags at sites that nobody registered, checks of units that nobody put down, in one take-in."""
    programme = new_programme()
    programme.take({"clube/bags.csv": BAGS, "clube/check.csv": CHECKS})
    run.refresh(programme.root)
    return programme


def test_a_letter_tells_what_is_taken_in_and_waits(told):
    """A letter says which rows were taken in and do not count, what for, what to do, and asks whether a near name is meant."""
    text = letter(told, "bags")
    assert "Thank you: nothing of it is held. Taken in, but not counted yet: 3 statements." in text
    assert "CB-3: the site cb is not known yet (row 4) What to do: Is CB (“Cove”) meant? Then write CB in your" in text
    assert "CB-2: the site Cvoe is not known yet (row 3) What to do: Is CB (“Cove”) meant?" in text
    assert "CB-4: the site Reef is not known yet (row 5) What to do: If it is a slip of the pen" in text
    assert "If it is right as it stands, ask the programme to register it." in text
    assert "CB-1" not in text and "plot T1" not in text  # one of the two is told


def test_files_of_one_take_in_are_told_of_together(told):
    """A check whose unit came in the same take-in does not wait, and one that is off by a sign is asked about; digits never are."""
    text = letter(told, "check")
    assert "unit cb 1 was never put down, as far as anyone has told (row 2) What to do: Is CB-1 meant?" in text
    assert "unit CB-9 was never put down, as far as anyone has told (row 3) What to do: If it is a slip" in text
    assert "kind and key are: - row 2: check; CB 2025-04-05 1 | cb 1 - row 3: check; CB 2025-04-05 1 | CB-9" in text


def test_the_page_asks_the_same(told):
    """The page of what is open has the same near name and the same advice, and says in which file."""
    text = page(told)
    assert "the site cb is not known yet (“bags.csv” row 4, received" in text
    assert "What to do: Is CB (“Cove”) meant? Then write CB in your sheet and hand the sheet in again." in text
    assert "kind and key are:" in text and "WAITING, 5 statements." in text


def test_letters_of_what_waits_are_the_same_when_made_anew(told, copy_of):
    """A letter goes by the end of its own take-in: made anew when all it waited for is there, it is the same bytes."""
    copy = copy_of(told)
    before = {p.name: p.read_bytes() for p in (copy.root / "out/letters/clube").glob("0*.*")}
    site = copy.root / "inbox/programme/site.csv"
    copy.put("programme", "site 2.csv", site.read_bytes().replace(b"NP,", b"Reef,"))
    copy.take({"clube/bags 2.csv": BAGS.replace("CB-4", "CB-9")})
    shutil.rmtree(copy.root / "out")
    shutil.rmtree(copy.root / "warehouse")
    run.refresh(copy.root)
    assert {name: (copy.root / "out/letters/clube" / name).read_bytes() for name in before} == before
    assert "Reef is not known" not in letter(copy, "bags_2") and "Reef is not known" in letter(copy, "bags")


@pytest.mark.parametrize("mapping", ["", MAPPING])
def test_what_the_letter_says_is_enough(told, copy_of, mapping):
    """Whoever mends the rows as the letter asks and takes the old ones back as it says has nothing waiting, with or without a mapping."""
    copy = copy_of(told)
    if mapping:
        copy.partner("clube", mapping)
    copy.take({"clube/check.csv": CHECKS.replace("cb 1 ", "CB-1 ").replace("CB-9", "CB-3")})
    copy.take({"clube/bags.csv": BAGS.replace("Cvoe", "CB  ")})
    run.refresh(copy.root)
    assert "WAITING, 4 statements." in page(copy) and "CB-2" not in page(copy)
    back = "happened,withdraws_kind,withdraws_key,reason\n2025-06-01,check,CB 2025-04-05 1 | cb 1,mistyped\n2025-06-01,check,CB 2025-04-05 1 | CB-9,mistyped\n"
    copy.take({"clube/take back.csv": back.encode()})
    run.refresh(copy.root)
    assert "WAITING, 2 statements." in page(copy) and "cb 1" not in page(copy) and "CB-9" not in page(copy)
    assert len(copy.ask("select * from check_now")) == 2


def test_the_table_of_a_trial_tells_what_would_not_count(told, tmp_path, capsys):
    """In the command's table rows that would enter and wait stand apart from those that would count."""
    file = tmp_path / "more.csv"
    file.write_text(
        "unit_key,method,site_key,plot_key,happened\nCB-7,spore bag,CB,T1,2025-03-01\nCB-8,spore bag,Reef,T1,2025-03-01\n"
    )
    assert main(["try", str(file), "--partner", "clube", "-p", str(told.root)]) == 0
    table = [" ".join(line.split()) for line in capsys.readouterr().out.splitlines()[:8]]
    assert "2 would enter" in table and "3 would enter and not count yet" in table


def test_a_trial_tells_what_would_wait(told):
    """`try` says what would enter and not count, seen beside all that is projected, with the same question; the ledger stays as it is."""
    file = told.root / "more.csv"
    file.write_text(
        "unit_key,method,site_key,plot_key,happened\nX-1,spore bag,Covve,T1,2025-03-01\nX-2,spore bag,CB,T1,2025-03-01\n"
    )
    tried = try_file(told.root, file, "clube")
    text = " ".join(tried.letter.text().split())
    assert (
        "They would make 2 statements: 2 would enter, 0 would be held, 0 are known already. Nothing of it would be held."
        in text
    )
    assert "Would enter and not count yet: 1 statement." in text
    assert "the site Covve is not known yet (row 2) What to do: Is CB (“Cove”) meant?" in text
    assert [(w.key, w.meant) for w in tried.waits] == [("X-1", "CB")]
    again = try_file(told.root, told.root / "inbox/clube/check.csv", "clube")
    assert {(w.key, w.meant) for w in again.waits} == {
        ("CB 2025-04-05 1 | cb 1", "CB-1"),
        ("CB 2025-04-05 1 | CB-9", ""),
    }


def test_take_ins_are_told_apart_though_the_clock_went_back(told, copy_of, monkeypatch):
    """Entries of one take-in end together and those of two do not, on nights whose clock lies a year behind or stands still."""
    copy = copy_of(told)
    before, last = ends_of_take_ins(copy.ledger.entries()), copy.ledger.last_number()
    then = run.this_instant() - dt.timedelta(days=365)
    monkeypatch.setattr(run, "this_instant", lambda: then)
    new = "unit_key   method      site_key   plot_key   happened\nN-{}   spore bag   CB   T1   2025-03-01"
    for names in ("a", "bcd", "ef"):
        copy.take({f"clube/{name}.csv": new.format(name) for name in names})
    ends = ends_of_take_ins(copy.ledger.entries())
    assert {n - last: end - last for n, end in ends.items() if n > last} == {1: 1, 2: 4, 3: 4, 4: 4, 5: 6, 6: 6}
    assert {n: end for n, end in ends.items() if n <= last} == before
    assert before[last - 1] == before[last] == last


TWO_FAULTS = """
    unit_key   method      site_key   plot_key   happened
    CB-21      spore bag   Cvoe       T1         2025-02-31
    CB-22      spore bag   CB         T9         2025-02-31
    CB-23      sporebag    COVE       T1         2025-02-31
    CB-24      spore bag   CB         T1         2025-02-31
"""
TWO_FAULTS_CHECKED = """
    site_key   unit_key   happened     state     search_time_min
    CB         CB-24      2025-04-05   perhaps   5
    CB         CB-99      2025-04-05   perhaps   5
"""


def test_a_held_row_is_told_at_once_of_all_that_it_would_wait_for(told, copy_of):
    """A row held for one cell is told in the same letter, trial and workbook of the site, plot or unit in it that nobody knows; a unit
    whose own row is held is not said to be unknown."""
    copy = copy_of(told)
    files = {"bags 3.csv": TWO_FAULTS, "check 3.csv": TWO_FAULTS_CHECKED}
    bags = copy.put("clube", "bags 3.csv", TWO_FAULTS)
    tried = " ".join(try_file(copy.root, bags, "clube").letter.text().split())
    copy.take({f"clube/{name}": table for name, table in files.items()})
    run.refresh(copy.root)
    for text in (tried, letter(copy, "bags_3")):
        assert "Held rows that would wait even when that is mended: 3 rows. Mend this in the same go." in text
        assert "CB-21: the site Cvoe is not known yet (row 2) What to do: Is CB (“Cove”) meant?" in text
        assert "CB-22: the plot T9 is not known yet (row 3)" in text
        assert (
            "COVE is not known yet (row 4) What to do: That is the name of one site; its code is CB. Write CB in"
            in text
        )
        assert "CB-24: " not in text
    checks = letter(copy, "check_3")
    assert "mended: 1 row." in checks and "CB-99 was never put down" in checks and "CB-24 was" not in checks
    [book] = (copy.root / "out/letters/clube").glob("*-bags_3.xlsx")
    [page] = load_workbook(book).worksheets
    assert "The site Cvoe is not known yet. Is CB (“Cove”) meant?" in str(page["A2"].value)
    assert "not known yet" not in str(page["A5"].value)


def test_a_plot_whose_own_row_is_held_is_not_said_to_be_unknown(told, copy_of):
    """Where the row that registers a plot is held itself, nobody is asked to register it."""
    copy = copy_of(told)
    plot = "site_key   plot_key   plot_kind   area_m2\nCB         T9         treated     lots\n"
    copy.take({"programme/plot 2.csv": plot, "clube/bags 4.csv": TWO_FAULTS})
    run.refresh(copy.root)
    assert "the site Cvoe is not known yet" in letter(copy, "bags_4") and "T9 is not" not in letter(copy, "bags_4")


def test_of_an_unknown_site_no_plot_is_asked_for(new_programme):
    """Before any site is registered a held row is told of its site, not of the plot there."""
    bare = new_programme(sea=False)
    bare.take({"clube/bags 5.csv": TWO_FAULTS})
    run.refresh(bare.root)
    assert "the site CB is not known yet" in letter(bare, "bags_5") and "the plot" not in letter(bare, "bags_5")


def test_a_sites_very_name_is_no_question(told):
    """Who wrote the whole name of one registered site is told its code for certain; a name that two sites share is no answer."""
    assert _meant("cOVE ", {"CB": ("Cove",), "NP": ()}) == ("CB", True)
    assert _meant("West bay", {"W1": ("West Bay",), "W2": ("West  bay",)}) == ("", False)
    file = told.root / "named.csv"
    file.write_text("unit_key,method,site_key,plot_key,happened\nX-1,spore bag,COVE,T1,2025-03-01\n")
    text = " ".join(try_file(told.root, file, "clube").letter.text().split())
    assert "That is the name of one site; its code is CB." in text and "Is CB" not in text


SITES = {"SV": ["Svartskjæret"], "WB": ["West Bay"], "WB2": ["West Bay outer"], "NORD": [], "NORE": []}


@pytest.mark.parametrize(
    ("word", "key"),
    [
        ("Svartskjæret", "SV"), ("svartskjaeret", "SV"), ("Svartskjerret", "SV"), ("sv", "SV"), ("S-V", "SV"), ("SVX", "SV"),
        ("West Bay", "WB"), ("westbay", "WB"), ("WB1", ""), ("WB3", ""), ("SW", ""), ("NORF", ""), ("NRD", "NORD"), ("Reef", ""),
    ],
)  # fmt: skip
def test_what_may_be_meant(word, key):
    """A name, or a key off by case, a sign or one letter, leads to the one thing that is so called; two, or another digit, to none."""
    assert meant(word, names_of(SITES)) == key


def test_what_may_be_meant_differs_from_site_to_site():
    """Rows of two sites that name the same unknown plot are told apart where another plot may be meant at each."""
    one = Waiting("clube", "deployment", "CB-1", "unknown plot", "the plot T9 is not known yet", "bags.csv", "", 2, dt.date(2025, 3, 1), 4,
                  "i1", meant="T1")  # fmt: skip
    other = replace(one, key="NP-1", row=3, identity="i2", meant="")
    told = [line.text for line in waiting_lines(words("en"), [one, other], file=False)]
    assert "row 2" in told[0] and "Is T1 meant?" in told[1]
    assert "row 3" in told[2] and "Is T1 meant?" not in told[3]
