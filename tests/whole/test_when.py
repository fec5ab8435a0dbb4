"""`--as-of`, `--recorded` and `--rules`: what was known then, told by the command line."""

import datetime as dt
import json

import pytest

from pipeline import run
from pipeline.cli import main

LATER_RULES = "retention_days = [20]"

BAGS = """
    unit_key   method      site_key   plot_key   happened
    CB-1       spore bag   CB         T1         2025-03-01
    CB-2       spore bag   CB         T1         2025-03-01
    CB-3       spore bag   CB         T1         2025-03-01
    CB-4       spore bag   CB         T1         {}
"""
CHECKS = """
    site_key   unit_key   happened     state      search_time_min
    CB         CB-1       2025-04-05   attached   5
    CB         CB-2       2025-04-05   attached   5
    CB         CB-3       2025-04-05   attached   5
    CB         CB-4       2025-05-20   absent     9
    CB         CB-9       2025-05-20   attached   5
"""


@pytest.fixture(scope="module")
def told(new_programme, rules):
    """(folder, number of the last entry of each night): bags on 1 June, checks on 2 June 23:30, new rules 3 June 00:30."""
    programme = new_programme()
    patch = pytest.MonkeyPatch()
    nights = [("2027-06-01T10:00", {"clube/deployment.csv": BAGS.format("2025-03-01")}),
              ("2027-06-02T22:30", {"clube/check.csv": CHECKS, "clube/visit.csv": "visit_key   outcome\nD1   lost"}),
              ("2027-06-02T23:30", {})]  # fmt: skip
    heads = []
    for when, files in nights:
        patch.setattr(run, "this_instant", lambda when=when: dt.datetime.fromisoformat(when + "+00:00"))
        if not files:
            programme.rules(rules.replace("retention_days = [30]", LATER_RULES))
        programme.take(files)
        run.refresh(programme.root)
        heads.append(programme.ledger.last_number())
    patch.undo()
    return programme.root, heads


@pytest.fixture
def ask(told, capsys):
    """The JSON that a command of that programme gives, after its exit code was looked at."""

    def asked(*words: str, code: int = 0):
        assert main([*words, "-p", str(told[0]), "--json"]) == code
        return json.loads(capsys.readouterr().out)

    return asked


def retention(figures):
    """(day, units, value or bounds) of the site's retention."""
    found = [f for f in figures if f["indicator"] == "unit retention" and f["site"] == "CB"]
    return [(f["day"], f["n"], f["value"]) for f in found]


def test_without_flags_the_published_figures_answer(ask):
    """Without any of the three flags what was published is shown."""
    assert [day for day, _, _ in retention(ask("show"))] == ["20"]


def test_as_of_counts_what_happened_by_that_day(ask):
    """As of a happened day, later checks are not counted, under the rules of the last entry."""
    assert retention(ask("show", "--as-of", "2025-04-05")) == [("20", 3, 1.0)]
    assert retention(ask("show", "--as-of", "2025-03-31")) == [("20", 0, None)]
    assert retention(ask("show", "--as-of", "2025-05-20")) == [("20", 4, 1.0)]


def test_recorded_is_what_the_ledger_knew(ask, told):
    """By an entry's number, an instant or the end of a local day, the ledger knows what was recorded by then."""
    _, (first, second, _third) = told
    before = retention(ask("show", "--recorded", str(first)))
    assert before == [("30", 0, None)]
    for same in ("2027-06-01", "2027-06-02T23:29", "2027-06-02 22:29Z"):
        assert retention(ask("show", "--recorded", same)) == before
    with_checks = retention(ask("show", "--recorded", str(second)))
    assert [(day, n) for day, n, _ in with_checks] == [("30", 4)]
    # 22:30 and 23:30 UTC are 23:30 and 00:30 in Lisbon: the second night is of 2 June, the rules are of 3 June
    for same in ("2027-06-02", "2027-06-02T23:30", "2027-06-02T22:30:00+00:00"):
        assert retention(ask("show", "--recorded", same)) == with_checks
    assert [day for day, *_ in retention(ask("show", "--recorded", "2027-06-03"))] == ["20"]


def test_rules_of_then_or_of_today(ask, told):
    """A past night is judged by its own rules unless today's are asked for."""
    assert [d for d, *_ in retention(ask("show", "--recorded", str(told[1][1]), "--rules", "then"))] == ["30"]
    assert [d for d, *_ in retention(ask("show", "--recorded", str(told[1][1]), "--rules", "today"))] == ["20"]


def test_what_was_held_and_stood_then(ask, told):
    """Held parts and what waits are told as of an earlier entry too."""
    first, *_ = told[1]
    assert ask("held", code=3) and ask("held", "--rows", code=3)
    assert ask("held", "--recorded", str(first)) == [] == ask("held", "--rows", "--recorded", str(first))
    assert [s["rule"] for s in ask("standing")] == ["never deployed"]
    assert ask("standing", "--as-of", "2025-05-01") == ask("standing", "--recorded", str(first)) == []
    assert ask("waiting", "--recorded", str(first)) == []


def test_a_past_figure_leads_home_and_is_made_again(ask, told, tmp_path):
    """A figure as of a past day leads to the rows of then, and a programme of only those gives the same figure."""
    flags = ("--as-of", "2025-04-05", "--recorded", str(told[1][1]))
    [figure] = [f["id"] for f in ask("show", *flags) if f["indicator"] == "unit retention" and f["site"] == "CB"]
    homes = ask("home", figure, *flags)
    assert {h["key"] for h in homes if h["kind"] == "check"} == {f"CB 2025-04-05 1 | CB-{n}" for n in (1, 2, 3)}
    assert ask("evidence", figure, str(tmp_path / "proof"), *flags)["same"]


def test_the_heading_says_what_was_asked(told, capsys):
    """The printed figures say their day, the entry they were known by, and whose rules judged them."""
    root, (_, second, _) = told
    assert main(["show", "-p", str(root), "--recorded", str(second), "--as-of", "2025-04-05"]) == 0
    wanted = f"as of 2025-04-05, known by entry {second} (recorded 2027-06-02T22:30:00Z), under the rules of then"
    assert wanted in " ".join(capsys.readouterr().out.split())


@pytest.mark.parametrize(
    ("flags", "cure"),
    [
        (["--as-of", "June"], "Write a day such as"),
        (["--as-of", "2025-02-30"], "Write a day such as"),
        (["--as-of", "20250401"], "Write a day such as"),
        (["--recorded", "yesterday"], "Write a day such as"),
        (["--recorded", "2027-13-01T10:00"], "the number of an entry"),
        (["--recorded", "9999-12-31"], "Write a day such as"),
        (["--recorded", "999"], "The ledger's entries are 1 to "),
        (["--recorded", "0"], "The ledger's entries are 1 to "),
        (["--recorded", "2020-01-01"], "Ask for a later time."),
    ],
)
def test_what_cannot_be_asked_is_told_with_a_cure(told, capsys, flags, cure):
    """A text that is no day, no time and no entry, or reaches before the ledger, is refused with what to write."""
    assert main(["show", "-p", str(told[0]), *flags]) == 2
    assert cure in capsys.readouterr().err


def test_an_entry_that_is_not_measured_yet_is_refused(programme, capsys):
    """An entry that the projection does not hold yet is refused, not quietly left out."""
    run.refresh(programme.root)
    programme.take({"clube/deployment.csv": BAGS.format("2025-03-01")})
    assert main(["show", "-p", str(programme.root), "--recorded", str(programme.ledger.last_number())]) == 2
    assert "Run `wrackline measure` first" in capsys.readouterr().err
