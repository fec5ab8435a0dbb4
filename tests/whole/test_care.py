"""What an operator, a disk or a partner may do to a programme, and what comes of it."""

import csv
import json
import os
import shutil
import subprocess
import sys

import pytest

from pipeline import look, run, settle
from pipeline.cli import main
from pipeline.errors import BadUsage, LedgerDamaged
from pipeline.starter import start

SITE = "site_key,name,latitude,longitude,datum,uncertainty_m,radius_m,country\nA,Ay,39.1,-9.4,EPSG:4326,5,80,PT\n"
PLOT = "site_key,plot_key,plot_kind,area_m2\nA,T1,treated,50\n"
BAGS = "unit_key,method,site_key,plot_key,happened,fixing\n" + "".join(
    f"A-{n},spore bag,A,T1,2025-04-01,bolt\n" for n in range(6)
)
CHECKS = "site_key,unit_key,happened,state,search_time_min\n" + "".join(
    f"A,A-{n},2025-05-01,{'attached' if n else 'absent'},10\n" for n in range(6)
)


@pytest.fixture(scope="module")
def first_night(tmp_path_factory):
    """A small programme after its first night: to be copied, never changed."""
    root = tmp_path_factory.mktemp("care") / "p"
    start(root)
    (root / "inbox/club").mkdir()
    (root / "inbox/other").mkdir()
    for name, text in (
        ("programme/site.csv", SITE),
        ("programme/plot.csv", PLOT),
        ("club/deployment.csv", BAGS),
        ("club/check.csv", CHECKS),
    ):
        (root / "inbox" / name).write_text(text)
    run.run_all(root)
    return root


@pytest.fixture
def programme(first_night, tmp_path):
    """A copy of it."""
    return shutil.copytree(first_night, tmp_path / "p")


def tables(root):
    """The bytes of what was published."""
    return [(root / "out" / name).read_bytes() for name in ("figures.parquet", "indicators.csv")]


def retained(root):
    """Units behind the retention at the release window, and the bounds."""
    return next(f.estimate for f in look.published(root) if f.indicator == "unit retention")


def test_taking_in_again_changes_nothing(programme):
    """A second night with the same files says that nothing is new and leaves every output as it was."""
    before = tables(programme)
    took, published = run.run_all(programme)
    assert took.entries == [] and published.figures == 0
    assert tables(programme) == before


@pytest.mark.parametrize("harm", ["cut short", "scribbled", "gone"])
def test_a_damaged_projection_is_made_anew(programme, harm):
    """A projection that is gone or damaged is rebuilt by itself, and gives the same bytes."""
    before = tables(programme)
    [file] = (programme / "warehouse").glob("*.duckdb")
    if harm == "gone":
        file.unlink()
    elif harm == "cut short":
        os.truncate(file, 5000)
    else:
        data = bytearray(file.read_bytes())
        data[4096:] = bytes(len(data) - 4096)
        file.write_bytes(data)
    (programme / "inbox/club/visit.csv").write_text("visit_key,site_key,happened,outcome\nX,A,2025-05-01,found\n")
    run.run_all(programme)
    (programme / "out/about.json").unlink()
    run.refresh(programme)
    assert look.verify(programme).wrong == []
    assert tables(programme) == before


def test_a_damaged_ledger_is_refused(programme):
    """Nothing is made from a segment whose bytes were changed, and the message says which and what to do."""
    [segment] = (programme / "ledger/segments/check").glob("*.parquet")
    data = bytearray(segment.read_bytes())
    data[len(data) // 2] ^= 1
    segment.chmod(0o644)
    segment.write_bytes(data)
    with pytest.raises(LedgerDamaged, match=r"The check segment of entry \d+ is gone or was changed"):
        run.project(programme, rebuild=True)
    assert main(["verify", "-p", str(programme)]) == LedgerDamaged.exit_code


def test_a_ruling_settles_a_conflict_between_partners(programme):
    """A unit that two partners tell of differently waits, and counts again once a ruling says how."""
    other = BAGS.splitlines()[0] + "\nA-3,spore bag,A,T1,2025-04-02,glue\n"
    (programme / "inbox/other/deployment.csv").write_text(other)
    run.run_all(programme)
    assert retained(programme).n == 5
    waiting = look.waiting(programme)
    assert {(q.kind, q.key) for q in waiting} == {("deployment", "A-3")}
    theirs = next(q.content for q in waiting if q.partner == "other")
    settle.settle(programme, waiting[0].identity[:8], theirs[:8], "lead", "the other club's slate shows it")
    run.refresh(programme)
    assert retained(programme).n == 6 and look.waiting(programme) == [] and look.held(programme) == []
    with run.session(programme) as (con, _):
        assert con.sql("select fixing from deployment_stands where unit_key = 'A-3'").fetchall() == [("glue",)]


def test_a_ruling_of_none_keeps_what_counted(programme):
    """Ruling that none of the new things counts leaves the old one in force, and nothing waits."""
    (programme / "inbox/other/deployment.csv").write_text(
        BAGS.splitlines()[0] + "\nA-3,spore bag,A,T1,2025-04-02,glue\n"
    )
    run.run_all(programme)
    [identity] = {q.identity for q in look.waiting(programme)}
    settle.settle(programme, identity, "none", "lead", "a slip of the pen")
    run.refresh(programme)
    assert retained(programme).n == 6 and look.waiting(programme) == []


def test_a_later_ruling_replaces_an_earlier_one(programme, capsys):
    """What was ruled on can be ruled on again by its key; both rulings are listed, with who, why, and which holds."""
    other = BAGS.splitlines()[0] + "\nA-3,spore bag,A,T1,2025-04-02,glue\n"
    (programme / "inbox/other/deployment.csv").write_text(other)
    run.run_all(programme)
    said = {q.partner: q.content for q in look.waiting(programme)}
    for partner, reason in (("other", "their slate"), ("club", "their photograph")):
        settle.settle(programme, "A-3", said[partner], "lead", reason)
        run.refresh(programme)
        assert look.waiting(programme) == []
    with run.session(programme) as (con, _):
        [(fixing,)] = con.sql("select fixing from deployment_stands where unit_key = 'A-3'").fetchall()
    assert fixing != "glue"
    assert [(r.key, r.by, r.reason, r.holds) for r in look.rulings(programme)] == [
        ("A-3", "lead", "their slate", False), ("A-3", "lead", "their photograph", True),
    ]  # fmt: skip
    assert main(["waiting", "--settled", "-p", str(programme)]) == 0
    assert "their photograph" in capsys.readouterr().out
    with pytest.raises(BadUsage, match="A ruling is replaced by another"):
        settle.withdraw(programme, "programme", "ruling", "A-3", "wrong")


@pytest.mark.parametrize(("choice", "spore_bags"), [("new", 2), ("none", 6)])
def test_one_ruling_settles_all_questions_of_a_file(programme, choice, spore_bags):
    """A file that would amend most of its rows is asked about, and one command takes it or refuses it."""
    head, *rows = BAGS.splitlines()
    changed = [head, *rows[:2], *(r.replace("spore bag", "seeded line") for r in rows[2:])]
    (programme / "inbox/club/deployment.csv").write_text("\n".join(changed) + "\n")
    took, _ = run.run_all(programme)
    assert len({q.identity for q in look.waiting(programme)}) == 4
    number = next(e.number for e in took.entries if e.drop)
    assert (
        main(["settle-file", str(number), choice, "--by", "lead", "--reason", "asked them", "-p", str(programme)]) == 0
    )
    run.refresh(programme)
    assert look.waiting(programme) == [] and look.held(programme) == []
    with run.session(programme) as (con, _):
        said = con.sql("select count(*) from deployment_stands where method = 'spore bag'").fetchall()
    assert said == [(spore_bags,)]
    with pytest.raises(BadUsage, match="no question that waits"):
        settle.settle_file(programme, number, "new", "lead", "again")


def test_a_withdrawn_event_stops_counting(programme):
    """An event withdrawn with a reason counts no more; its row and the reason stay in the ledger."""
    settle.withdraw(programme, "club", "deployment", "A-5", "never went into the water")
    run.refresh(programme)
    assert retained(programme).n == 5
    with run.session(programme) as (con, _):
        assert con.sql("select count(*) from deployment_said where unit_key = 'A-5'").fetchall() == [(1,)]
        assert con.sql("select reason from withdrawal_said").fetchall() == [("never went into the water",)]


def test_a_dismissed_part_is_closed(programme):
    """A held part that nobody can mend is closed with a reason and is listed no more."""
    (programme / "inbox/club/check-2.csv").write_text("site_key,unit_key,happened,state\nA,A-1,2025-06-01,gone\n")
    run.run_all(programme)
    [part] = look.held_rows(programme)
    settle.dismiss(programme, part.name, "lead", "the slate is lost")
    run.refresh(programme)
    assert look.held_rows(programme) == []


def test_a_retake_does_not_undo_a_later_correction(programme):
    """Reading old files again under a mended mapping changes what they said, but no correction that came since."""
    mapping = '[[sheet]]\nfiles = ["bags*.csv"]\nkind = "check"\n[sheet.columns]\n'
    columns = {"happened": "Day", "site_key": "Site", "unit_key": "Tag", "state": "State", "search_time_min": "Depth"}
    (programme / "partners/club.toml").write_text(mapping + "".join(f'{k} = "{v}"\n' for k, v in columns.items()))
    rows = [["Day", "Site", "Tag", "State", "Depth", "Minutes"]] + [
        ["2025-06-01", "A", f"A-{n}", "attached", "9", "5"] for n in range(5)
    ]
    sheet = programme / "inbox/club/bags.csv"
    for state in ("attached", "torn"):
        rows[1][3] = state
        with sheet.open("w", newline="") as f:
            csv.writer(f).writerows(rows)
        run.run_all(programme)
    columns["search_time_min"] = "Minutes"
    (programme / "partners/club.toml").write_text(mapping + "".join(f'{k} = "{v}"\n' for k, v in columns.items()))
    run.retake(programme, "club")
    run.refresh(programme)
    with run.session(programme) as (con, _):
        found = con.sql(
            "select unit_key, state, search_time_min::int from check_stands where happened = '2025-06-01' order by all"
        ).fetchall()
    assert found == [("A-0", "torn", 5)] + [(f"A-{n}", "attached", 5) for n in range(1, 5)]
    assert look.waiting(programme) == []


def test_two_unnamed_bags_are_two(programme):
    """Bags found ashore that nobody can name are told apart by what is said of them, and known again."""
    found = (
        "unit_key,happened,how_known,mass_kg\ncannot name,2025-06-01,ashore,1.5\ncannot name,2025-06-01,ashore,2.0\n"
    )
    (programme / "inbox/club/loss.csv").write_text(found)
    [entry] = run.take(programme).entries
    assert (entry.receipt.entered, entry.receipt.held) == (2, 0)
    (programme / "inbox/club/loss.csv").write_text(found + "A-5,2025-06-02,missed,\n")
    [entry] = run.take(programme).entries
    assert (entry.receipt.entered, entry.receipt.repeated) == (1, 2)


def test_every_command_speaks_json_and_keeps_its_exit_codes(programme, capsys):
    """Each command that looks gives one JSON text with --json; held parts, bad usage and wholeness have their codes."""
    figure = look.published(programme)[0].id
    for command in (
        ["show"],
        ["show", figure],
        ["home", figure],
        ["held"],
        ["waiting"],
        ["standing"],
        ["verify"],
        ["take"],
        ["measure"],
    ):
        assert main([*command, "-p", str(programme), "--json"]) == 0, command
        json.loads(capsys.readouterr().out)
    assert main(["columns", "survey", "--table-schema"]) == 0
    assert json.loads(capsys.readouterr().out)["name"] == "survey"
    assert main(["show", "nonsense", "-p", str(programme)]) == 2
    assert main(["take", "-p", str(programme / "nowhere")]) == 2
    (programme / "inbox/club/check-2.csv").write_text("site_key,unit_key,happened,state\nA,A-1,2025-06-01,gone\n")
    assert main(["take", "-p", str(programme)]) == 3


QUIET = """
import sys
from pipeline.cli import main
assert main(["take", "-p", sys.argv[1]]) == 0 and main(["measure", "-p", sys.argv[1]]) == 0
print(sorted({"duckdb", "pandera", "polars", "numpy", "pyarrow", "scipy", "dagster"} & set(sys.modules)))
"""


def test_a_night_without_news_loads_nothing_heavy(programme):
    """With nothing new, taking in and measuring load no engine, so that such a night costs a moment."""
    done = subprocess.run([sys.executable, "-c", QUIET, str(programme)], capture_output=True, text=True, check=True)
    assert done.stdout.splitlines()[-1] == "[]"
