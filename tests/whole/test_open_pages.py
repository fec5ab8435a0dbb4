"""What partners are told besides their letters: a page of what is open now; and what letters prove of the ledger."""

import datetime as dt
import json
import re
import shutil

import pytest

from pipeline import look, run
from pipeline.cli import main
from pipeline.outputs.words import words

BAGS = """
    unit_key   method      site_key   plot_key   happened     fixing
    CB-1       spore bag   CB         T1         2025-03-01   bolt
    CB-2       spore bag   CB         T1         2025-03-01   bolt
"""
THEIRS = """
    unit_key   method      site_key   plot_key   happened     fixing
    CB-2       spore bag   CB         T1         2025-03-01   glue
"""
CHECKS = """
    site_key   unit_key   happened     state      search_time_min
    CB         CB-1       2025-04-05   attached   5
    CB         CB-9       2025-04-05   attached   5
    CB         CB-1       2025-05-05   {}         5
"""


def page(programme, partner):
    """A partner's page."""
    return (programme.root / "out/letters" / partner / "standing.txt").read_text(encoding="utf-8")


def plain(text):
    """A text without its line breaks."""
    return " ".join(text.split())


@pytest.fixture(scope="module")
def told(new_programme):
    """To look at only: a programme with a held row, a contradiction between two partners and a check of a unit nobody put down."""
    programme = new_programme()
    programme.take({"clube/deployment.csv": BAGS})
    programme.take({"outro/deployment.csv": THEIRS, "clube/check.csv": CHECKS.format("lost")})
    run.refresh(programme.root)
    return programme


@pytest.fixture
def copy(told, new_programme):
    """The same programme, to change."""
    made = new_programme(sea=False)
    shutil.copytree(told.root, made.root, dirs_exist_ok=True)
    return made


def test_a_page_of_what_is_open_leads_to_letters_as_pages(told):
    """Every link of the page leads to a file that lies beside it and is a page or a workbook itself."""
    folder = told.root / "out/letters/clube"
    links = re.findall(r'href="([^"]+)"', (folder / "standing.html").read_text(encoding="utf-8"))
    assert links and all((folder / link).is_file() and link.endswith((".html", ".xlsx")) for link in links)


def test_both_sides_of_a_contradiction_hear_of_it(told):
    """A thing that two partners tell differently stands on both pages: both sayings, file, row, and what to do."""
    for partner in ("clube", "outro"):
        text = plain(page(told, partner))
        assert "TOLD DIFFERENTLY BY SEVERAL, 1 thing. Find out together which is right." in text
        assert "deployment CB-2 (until then it does not count)" in text
        assert re.search(r"- clube, “deployment.csv” row 3, received \d+ \w+ \d{4}: fixing “bolt”", text)
        assert re.search(r"- outro, “deployment.csv” row 2, received \d+ \w+ \d{4}: fixing “glue”", text)
    assert "CB-2" not in page(told, "programme")


def test_the_page_tells_what_is_held_and_waits_and_since_when(told):
    """A held row stands with its letter, row, reason and cure; an event that waits with what it waits for."""
    text, today = plain(page(told, "clube")), words("en").day(run.this_instant().date())
    [letter] = (told.root / "out/letters/clube").glob("*-check.txt")
    assert f"“check.csv”, received {today}, letter {letter.name}" in text
    assert "- row 4: column “state”: not a known word, found “lost” Wanted: one of: attached, torn," in text
    assert "retrieved. What to do: Write one of these in" in text
    assert "check CB 2025-04-05 1 | CB-9: unit CB-9 was never put down" in text
    assert f"(“check.csv” row 3, received {today})" in text
    assert "Nothing of yours is held, and nothing waits." in page(told, "programme")


def test_what_was_mended_leaves_the_page_and_the_letter_stays(copy):
    """Once its row is mended a held part is told of no more, while the letter about it stays as it was."""
    [letter] = (copy.root / "out/letters/clube").glob("*-check.txt")
    before = letter.read_bytes()
    copy.take({"clube/check.csv": CHECKS.format("torn")})
    run.refresh(copy.root)
    assert "HELD" not in page(copy, "clube") and letter.read_bytes() == before
    assert [h.partner for h in look.held(copy.root)] == ["outro"]


def test_rows_that_differ_alike_are_told_together(programme):
    """Of a file that would amend most of what it tells, rows that change the same thing to the same value share a line."""
    bags = "unit_key   method      site_key   plot_key   happened     fixing\n" + "\n".join(
        f"CB-{n}   spore bag   CB         T1         2025-03-01   {{}}" for n in range(1, 9)
    )
    programme.take({"clube/deployment.csv": bags.format(*["bolt"] * 8)})
    run.refresh(programme.root)
    programme.take({"clube/mended.csv": bags.format(*["glue"] * 4, "tie", *["glue"] * 3)})
    run.refresh(programme.root)
    text = plain(page(programme, "clube"))
    assert "rows 2-5, 7-9: fixing “glue”" in text and "row 6: fixing “tie”" in text


def test_the_same_ledger_gives_the_same_pages(copy, monkeypatch):
    """Made again years later from the ledger alone, every page is the same bytes."""
    pages = sorted((copy.root / "out/letters").glob("*/standing.txt"))
    before = [p.read_bytes() for p in pages]
    for folder in ("out", "warehouse"):
        shutil.rmtree(copy.root / folder)
    later = dt.datetime(2099, 1, 1, tzinfo=dt.UTC)
    monkeypatch.setattr(run, "this_instant", lambda: later)
    run.refresh(copy.root)
    assert [p.read_bytes() for p in pages] == before and len(pages) == 3


def test_held_names_the_letter(told, capsys):
    """`held` and `held --rows` say where the letter is, from the programme's folder; the file is there."""
    for more in ([], ["--rows"]):
        assert main(["held", "-p", str(told.root), "--json", *more]) == 3
        for row in json.loads(capsys.readouterr().out):
            assert (told.root / row["letter"]).is_file()
        assert main(["held", "-p", str(told.root), *more]) == 3
        printed = capsys.readouterr().out
        assert re.search(r"^ +\d+  out/letters/outro/\d{6}-deployment\.txt$", printed, re.MULTILINE)


def test_waiting_shows_what_is_told_differently(told):
    """Of a thing that waits for a ruling only those values are shown beside each other that differ."""
    assert [(q.partner, q.differs) for q in look.waiting(told.root)] == [
        ("clube", "fixing bolt"),
        ("outro", "fixing glue"),
    ]


def test_home_says_what_each_row_said(told, capsys):
    """Each row that a figure leads home to stands with its own values: how it was fixed, what was found, how large."""
    figure = next(f for f in look.published(told.root) if f.indicator == "unit retention")
    says = {(h.kind, h.key): h.says for h in look.lead_home(told.root, figure)}
    assert says["deployment", "CB-1"].startswith("method spore bag, fixing bolt, happened 2025-03-01")
    assert says["check", "CB 2025-04-05 1 | CB-1"] == "state attached, search_time_min 5"
    assert says["plot", "CB | T1"].startswith("plot_kind treated, area_m2 100,")
    assert main(["home", figure.id, "-p", str(told.root)]) == 0
    assert "state attached" in capsys.readouterr().out


@pytest.mark.parametrize(
    "command", ["show", "show --all", "held", "held --rows", "waiting", "standing", "columns", "columns survey", "catalogue", "home"]
)  # fmt: skip
def test_nothing_printed_in_a_pipe_is_wider_than_120(told, capsys, command):
    """In a pipe no command's tables are wider than 120 columns."""
    words = command.split()
    if words[0] == "home":
        words.append(look.published(told.root)[0].id)
    main(words if words[0] in ("columns", "catalogue") else [*words, "-p", str(told.root)])
    lines = capsys.readouterr().out.splitlines()
    assert lines and max(map(len, lines)) <= 120


def test_show_of_one_site(told, capsys):
    """`show --site` keeps to one site's figures, and names the sites when it is given another."""
    assert main(["show", "--site", "CB", "--json", "-p", str(told.root)]) == 0
    assert {f["site"] for f in json.loads(capsys.readouterr().out)} == {"CB"}
    assert main(["show", "--site", "XX", "-p", str(told.root)]) == 2
    assert "Sites with figures: CB, all" in capsys.readouterr().err


# --- letters as witnesses ------------------------------------------------------------------------------------


def alone(programme, letters):
    """Leave only those letters of all that was written outside the ledger."""
    shutil.rmtree(programme.root / "warehouse", ignore_errors=True)
    shutil.rmtree(programme.root / "out", ignore_errors=True)
    shutil.copytree(letters, programme.root / "out/letters")
    return look.verify(programme.root)


@pytest.fixture
def witnessed(programme, new_programme):
    """(programme with one more drop, its letters' folder, the same programme with another drop in its place)."""
    other = new_programme(sea=False)
    shutil.copytree(programme.root, other.root, dirs_exist_ok=True)
    programme.take({"clube/deployment.csv": BAGS})
    run.project(programme.root)
    run.write_letters(programme.root)
    return programme, programme.root / "out/letters", other


def test_a_letter_vouches_for_its_entry(witnessed, tmp_path):
    """A kept letter alone shows that its entry is the one it was written about."""
    programme, letters, _ = witnessed
    kept = shutil.copytree(letters, tmp_path / "kept")
    verdict = alone(programme, kept)
    assert verdict.wrong == verdict.notes == []


def test_a_letter_tells_of_an_exchanged_entry(witnessed):
    """A letter that names an entry by another hash shows that the entry was exchanged, though the chain holds."""
    programme, letters, other = witnessed
    [entry] = other.take({"clube/deployment.csv": THEIRS})
    assert entry.number == programme.ledger.last_number()
    [wrong] = alone(other, letters).wrong
    assert wrong.startswith(
        f"Entry {entry.number} is not the one that out/letters/clube/{entry.number:06d}-deployment.txt"
    )


def test_a_letter_tells_of_a_cut_end(witnessed):
    """A letter about an entry that is gone shows that the end was cut off."""
    programme, letters, other = witnessed
    last = programme.ledger.last_number()
    [wrong] = alone(other, letters).wrong
    assert f"saw entry {last}: the end was cut off" in wrong


def test_older_letters_are_still_read(witnessed):
    """A letter without a hash still shows how many entries there were."""
    _, letters, other = witnessed
    for letter in letters.glob("*/*.txt"):
        letter.write_text(re.sub(r", entry hash [0-9a-f]{16}", "", letter.read_text()))
    assert "the end was cut off" in alone(other, letters).wrong[0]
    other.take({"clube/deployment.csv": THEIRS})
    verdict = alone(other, letters)
    assert verdict.wrong == []
    assert verdict.notes == ["Nobody outside has seen the entries after 0 yet: `wrackline measure` notes the head"]


def test_entries_that_nobody_saw_are_named(copy):
    """`verify` says after which entry nobody outside the ledger has written anything down."""
    assert look.verify(copy.root).notes == []
    last = copy.ledger.last_number()
    copy.take({"clube/check.csv": CHECKS.format("torn")})
    assert look.verify(copy.root).notes == [
        f"Nobody outside has seen the entries after {last} yet: `wrackline measure` notes the head"
    ]
