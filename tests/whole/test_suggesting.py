"""From an unknown sheet to figures' rows: take, suggest, answer, confirm; in a pipe and at a terminal."""

import json
import os
import random
import select
import subprocess
import sys
from pathlib import Path

import pytest

from pipeline import run
from pipeline.ledger.store import Ledger

ROOT = Path(__file__).parent.parent.parent
KELPS = [
    "Alaria esculenta",
    "Laminaria digitata",
    "Laminaria hyperborea",
    "Saccharina latissima",
    "Saccorhiza polyschides",
]
SYLLABLES = ["al", "bor", "cys", "del", "fu", "gra", "hal", "lo", "ma", "no", "pal", "ri", "sto", "ul"]


def names(many: int) -> list[str]:
    """So many species: five kelps, and invented ones."""
    dice, made = random.Random(11), list(KELPS)
    while len(made) < many:
        genus, epithet = ("".join(dice.choices(SYLLABLES, k=3)) for _ in range(2))
        made.append(f"{genus.title()} {epithet}")
    return list(dict.fromkeys(made))


def cover_sheet(species: int = 100) -> bytes:
    """Percent cover as a club writes it: Windows letters, semicolons, a title, year, month and day apart, no cell twice alike.

    Blank is zero in a frame that was counted and nothing in one that was not (row 9); a text stands in a number column.
    """
    dice = random.Random(5)
    head = ["Year", "Month", "Day", "Site", "Plot", "Quadrat no.", "Depth (ft)", *names(species), "Notes"]
    rows = []
    for n in range(8):
        cells = [dice.choice(["", "", "", "0", "5", "20", "2,5"]) for _ in range(len(head) - 8)]
        if n == 2:
            cells[0] = "lots"
        if n == 6:
            cells = [""] * len(cells)
        rows.append(
            ["2025", str(4 + n // 4), str(3 + n), "Höga", "T1", str(n + 1), "20", *cells, "too murky" if n == 6 else ""]
        )
    lines = ["Percent cover, summer 2025", "", *(";".join(r) for r in [head, *rows])]
    return ("\r\n".join(lines) + "\r\n").encode("cp1252")


@pytest.fixture
def reef(new_programme):
    """A programme that has been handed a wide sheet that nobody mapped."""
    made = new_programme()
    made.put("club", "Cover 2025.csv", cover_sheet())
    return made


def wrackline(*args: str, cwd: Path) -> subprocess.CompletedProcess:
    """The command line from outside, in a pipe."""
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    return subprocess.run(
        [sys.executable, "-m", "pipeline", *args],
        cwd=cwd,
        env=environment,
        capture_output=True,
        text=True,
        timeout=100,
        check=False,
    )


END = "\x04"  # ends the input at a terminal


def at_a_terminal(answers: dict[str, str], *args: str, cwd: Path) -> str:
    """The same at a terminal: each question that holds a key of `answers` gets its answer, any other an empty line.

    What is asked again holds only why its answer could not be taken.
    """
    leader, follower = os.openpty()
    environment = {**os.environ, "PYTHONPATH": str(ROOT), "COLUMNS": "120"}
    with subprocess.Popen(
        [sys.executable, "-m", "pipeline", *args],
        cwd=cwd,
        env=environment,
        stdin=follower,
        stdout=follower,
        stderr=follower,
    ) as child:
        os.close(follower)
        said, told = "", 0
        while select.select([leader], [], [], 60)[0]:
            try:
                got = os.read(leader, 4096)
            except OSError:  # the child has closed its end
                break
            if not got:
                break
            said += got.decode(errors="replace")
            if said.endswith("] ") and len(said) > told:
                asked, told = said[told:], len(said)
                # the question stands at the end; before it may stand what else was told
                answer = max(((asked.rfind(k), a) for k, a in answers.items() if k in asked), default=(0, ""))[1]
                os.write(leader, (answer if answer == END else f"{answer}\n").encode())
        os.close(leader)
        child.wait(timeout=30)
    assert child.returncode == 0, said
    return said.replace("\r\n", "\n")


def test_a_wide_sheet_comes_ashore_in_a_pipe(reef):
    """An unknown sheet is held and the operator told what to do; suggested, answered and confirmed, every cell is accounted for."""
    taken = wrackline("take", cwd=reef.root)
    assert taken.returncode == 3
    assert 'wrackline suggest "inbox/club/Cover 2025.csv" --partner club' in taken.stdout

    told = wrackline("suggest", "inbox/club/Cover 2025.csv", "--partner", "club", cwd=reef.root)
    assert told.returncode == 0, told.stderr
    assert "Nothing is taken in by it yet" in told.stdout
    assert "AS IT WOULD BE READ" in told.stdout
    written = reef.root / "partners" / "club.toml"
    text = written.read_text(encoding="utf-8")
    assert "# ASK: " in text
    assert 'happened = ["Year", "Month", "Day"]' in text

    again = wrackline("retake", cwd=reef.root)
    assert "waits for its mapping" in again.stdout
    assert Ledger(reef.root / "ledger").entries()[-1].receipt.entered == 0

    confirmed = text.replace("confirmed = false\n", "").replace('blank = "not written"', 'blank = "zero beside others"')
    written.write_text(confirmed, encoding="utf-8")
    assert wrackline("retake", cwd=reef.root).returncode == 3
    receipt = Ledger(reef.root / "ledger").entries()[-1].receipt
    assert (receipt.records, receipt.entered, receipt.held) == (8, 7 * len(names(100)) - 1, 1)
    faults = reef.segment(Ledger(reef.root / "ledger").entries()[-1], "fault")
    assert [(f["row"], f["heading"], f["found"]) for f in faults] == [(6, KELPS[0], "lots")]


def test_a_suggestion_overwrites_nothing(reef):
    """Where a partner has a mapping, the suggestion is written beside it; a second one needs a name of its own."""
    mine = 'language = "en"\n'
    reef.partner("club", mine)
    args = ("suggest", "inbox/club/Cover 2025.csv", "--partner", "club")
    assert wrackline(*args, cwd=reef.root).returncode == 0
    assert (reef.root / "partners" / "club.toml").read_text() == mine
    assert "confirmed = false" in (reef.root / "partners" / "club.suggested.toml.txt").read_text()
    refused = wrackline(*args, cwd=reef.root)
    assert refused.returncode == 2
    assert "--out" in refused.stderr
    for partner in ("../club", "", ".club", "a/b"):
        assert wrackline("suggest", "inbox/club/Cover 2025.csv", "--partner", partner, cwd=reef.root).returncode == 2


def test_programs_get_it_as_json(reef):
    """--json tells every heading with what it feeds, the questions and where the mapping is written."""
    told = json.loads(
        wrackline("suggest", "inbox/club/Cover 2025.csv", "--partner", "club", "--json", cwd=reef.root).stdout
    )
    [sheet] = told["sheets"]
    assert sheet["columns"]["Alaria esculenta"] == ["survey.cover_pct"]
    assert {q["path"][-1] for q in sheet["questions"]} >= {"blank", "placement"}
    assert told["written"].endswith("club.toml")


def test_a_person_is_asked_at_a_terminal(reef):
    """At a terminal each question is asked and its answer used; only a yes at the end confirms, and the file then enters."""
    answers = {
        "What does a blank cell mean": "zero beside others",
        "placement": "random",
        "how large a frame": "0.25",
        "stage of what was counted": "any",
        "Is this right": "yes",
    }
    said = at_a_terminal(answers, "suggest", "inbox/club/Cover 2025.csv", "--partner", "club", cwd=reef.root)
    assert "confirmed. To have the file in, run" in said, said
    text = (reef.root / "partners" / "club.toml").read_text(encoding="utf-8")
    assert "confirmed" not in text.replace("`confirmed = false`", "")
    assert "area_m2 = 0.25" in text
    assert "# ASK" not in text
    [entry] = [e for e in run.take(reef.root).entries if e.drop]
    assert entry.receipt.entered == 7 * len(names(100)) - 1


def test_an_open_question_keeps_it_unconfirmed(reef):
    """A question left open at the terminal stays in the file, and nothing is confirmed."""
    said = at_a_terminal(
        {"What does a blank cell mean": "?"}, "suggest", "inbox/club/Cover 2025.csv", "--partner", "club", cwd=reef.root
    )
    assert "Questions are open" in said
    assert "confirmed = false" in (reef.root / "partners" / "club.toml").read_text(encoding="utf-8")


def test_an_answer_that_does_not_fit_is_asked_for_again(reef):
    """Why an answer cannot be taken is told, the question is asked again, and what was answered before is not lost."""
    sheet = "Date;Site;Plot;Quadrat;Laminaria digitata;Alaria esculenta;Saccharina latissima;Obelia spp.\n2025-06-01;Höga;T1;1;5;2.5;0;10\n"
    reef.put("club", "wide.csv", sheet.encode())
    answers = {
        "No heading is called “Obelia”": "cover_pct = Obelia spp.",
        "is no number of m2": "0.25",
        "how large a frame": "a quarter",
        "feeds nothing of ours": "cover_pct = Obelia",
        "stage of what was counted": "any",
        "Is this right": "yes",
    }
    said = at_a_terminal(answers, "suggest", "inbox/club/wide.csv", "--partner", "club", cwd=reef.root)
    assert "“a quarter” is no number of m2" in said
    assert "cover_pct = heading makes that column one more of the wide columns" in said
    assert "confirmed. To have the file in" in said, said
    text = (reef.root / "partners" / "club.toml").read_text(encoding="utf-8")
    assert "area_m2 = 0.25" in text
    assert 'but_not = ["Date", "Site", "Plot", "Quadrat"]' in text


def test_the_end_of_the_input_leaves_the_rest_open(reef):
    """Where the input ends, what was answered is written, and what was not stands in the file as without a terminal."""
    answers = {"What does a blank cell mean": END, "placement": "random"}
    said = at_a_terminal(answers, "suggest", "inbox/club/Cover 2025.csv", "--partner", "club", cwd=reef.root)
    assert "The input has ended, so what was not answered stays open." in said
    text = (reef.root / "partners" / "club.toml").read_text(encoding="utf-8")
    assert 'placement = "random"' in text
    assert "confirmed = false" in text
    [asked] = [line for line in text.splitlines() if "What does a blank cell mean" in line]
    assert asked.startswith("# ASK: ")
