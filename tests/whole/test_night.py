"""A night: the same with Dagster and without, what it tells of what changed, and what stops it."""

import datetime as dt
import os
import shutil
import signal
import socket
import stat
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import night_demo
import pytest
from stops import BAGS, CHECKS, LATER, PLOT, SITE

from pipeline import alerts, changed, night, run
from pipeline.cli import main
from pipeline.errors import KeptBack, LedgerDamaged
from pipeline.outputs.night_told import as_page, as_text, sections
from pipeline.outputs.tables import read_figures
from pipeline.programme import open_programme
from pipeline.starter import PROGRAMME, start

# Dagster warns of its own parts that are still in preview or beta.
pytestmark = [
    pytest.mark.filterwarnings("ignore::Warning:dagster"),
    pytest.mark.filterwarnings("ignore::DeprecationWarning"),
]
D1, D2, D3 = (dt.date(2025, 7, n) for n in (1, 2, 3))
RHYTHM = '\n[[partner_rhythm]]\npartner = "lab"\nevery_days = 30\ndated = 2025-04-01\n'


def tree(folder: Path) -> dict[str, bytes]:
    """Every file below a folder."""
    return {p.relative_to(folder).as_posix(): p.read_bytes() for p in sorted(folder.rglob("*")) if p.is_file()}


def play(root: Path, day: dt.date, say: run.Say = run.silent) -> int:
    """A night of that day, at three in its morning."""
    with night_demo.clock(day):
        return night.play(root, day, say)


@contextmanager
def network_shut() -> Iterator[None]:
    """Whoever tries to reach a network fails, and is no fault of the world that a night would pass over."""

    def refuse(*args: object, **more: object) -> None:
        raise AssertionError(f"a night asked the network: {args}")

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(socket.socket, "connect", refuse)
        patch.setattr(socket.socket, "connect_ex", refuse)
        patch.setattr(socket, "getaddrinfo", refuse)
        yield


@pytest.fixture(scope="module")
def one(tmp_path_factory):
    """A programme after its first night, its second lying in the inbox: to be copied, never changed."""
    root = tmp_path_factory.mktemp("one") / "p"
    start(root)
    root.chmod(0o700)
    (root / "inbox/club").mkdir()
    files = {
        "programme/site.csv": SITE,
        "programme/plot.csv": PLOT,
        "club/deployment.csv": BAGS,
        "club/check.csv": CHECKS,
    }
    for name, text in files.items():
        (root / "inbox" / name).write_text(text)
    with (root / "programme.toml").open("a") as f:
        f.write(RHYTHM)
    assert play(root, D1) == night.FINE
    (root / "inbox/club/check.csv").write_text(LATER)
    return root


@pytest.fixture(scope="module")
def heard():
    """What the second night said, once it was played."""
    return []


@pytest.fixture(scope="module")
def two(one, heard, tmp_path_factory):
    """The same after its second night, played with every way to a network shut."""
    root = shutil.copytree(one, tmp_path_factory.mktemp("two") / "p")
    with network_shut():
        assert play(root, D2, heard.append) == night.HELD
    return root


@pytest.fixture
def copy_of(tmp_path):
    """A copy to be changed."""
    return lambda root: shutil.copytree(root, tmp_path / "p")


# --- the same with Dagster and without ------------------------------------------------------------------------


def test_a_night_through_dagster_gives_the_same_bytes_log_and_exit_code(one, two, heard, tmp_path):
    """The second night through Dagster leaves the ledger and out/ byte for byte as without it, says the same, exits alike."""
    from pipeline import definitions

    by_dagster: list[str] = []
    root = shutil.copytree(one, tmp_path / "p")
    with night_demo.clock(D2), network_shut():
        assert definitions.play(root, D2, by_dagster.append) == night.HELD
    assert tree(root / "out") == tree(two / "out")
    assert tree(root / "ledger") == tree(two / "ledger")
    assert by_dagster == heard and any(line.startswith("changed: ") for line in heard)


def test_what_stops_a_night_stops_it_alike_through_dagster(one, tmp_path, monkeypatch):
    """Sums that do not hold stop both nights with the same words before anything is published, and an alert stands."""
    import warehouse.database
    from pipeline import definitions

    monkeypatch.setattr(warehouse.database, "parts_by_fate", lambda folder: [])
    told = []
    for how, name in ((night.play, "hand"), (definitions.play, "dagster")):
        root = shutil.copytree(one, tmp_path / name / "p")
        before = tree(root / "out")
        with night_demo.clock(D2), pytest.raises(LedgerDamaged) as stopped:
            how(root, D2, run.silent)
        told.append(str(stopped.value))
        after = tree(root / "out")
        assert {n: after[n] for n in before} == before
        assert "The night of 2025-07-02 did not come to its end: both_sums_hold" in alerts.standing(root)[night.FAILED]
    assert told[0] == told[1]


def test_nights_full_of_faults_end_as_one_clean_build(tmp_path):
    """Through a growing drop, full disks, a kill, a damaged warehouse and a late partner: sums hold, and tables are those of one build."""
    drops = [
        night_demo.Drop(name, text.encode())
        for name, text in (
            ("programme/site.csv", SITE), ("programme/plot.csv", PLOT), ("club/deployment.csv", BAGS),
            ("club/check.csv", CHECKS), ("club/check.csv", LATER),
        )
    ]  # fmt: skip
    rules = PROGRAMME + night_demo.RULES.format(partner="club", every=1, dated=night_demo.FIRST)
    told = night_demo.play_nights(night_demo.made(tmp_path / "played", rules, None), drops, 7, "club", every=1)
    assert [fault for _, fault in told.faults] == list(night_demo.FAULTS)
    assert (
        told.waited == 1
        and told.late
        and -signal.SIGKILL in told.codes
        and 6 in told.codes
        and told.codes[-1] == night.FINE
    )
    assert alerts.standing(told.root).keys() <= {"partners_are_on_time"}
    assert night_demo.sums_hold(told.root)
    clean = night_demo.clean_build(told, night_demo.made(tmp_path / "clean", rules, None))
    assert clean == night_demo.tables(told.root)


def test_a_damaged_projection_is_made_anew_on_a_night_without_news(two, copy_of):
    """Where nothing is new and the projection cannot be read any more, the night makes it anew and goes on."""
    root, said = copy_of(two), list[str]()
    [path] = (root / "warehouse").glob("*.duckdb")
    size = path.stat().st_size
    with path.open("r+b") as f:
        f.seek(size // 10)
        f.write(bytes(size - size // 10))
    assert play(root, D3, said.append) == night.FINE
    assert "the projection is damaged: making it anew" in said


# --- what changed ---------------------------------------------------------------------------------------------


def test_what_changed_names_drops_figures_rows_and_who_is_late(two):
    """The text tells the drop and what became of it, the figure that moved and the row that moved it, and the late partner."""
    text = (two / "out/changed.txt").read_text()
    told = changed.changed(two, D2)
    assert [e.name for e in told.entries] == ["check.csv"] and (told.base, told.head) == (4, 5)
    moved = {m.figure.indicator: m for m in told.moved}
    assert moved["day half are gone"].rows[0].file == "check.csv" and not told.unexplained
    assert {n.row for m in told.moved for n in m.rows} <= {4, 8, 9}  # amended, new, held
    for words in (
        "club/check.csv",
        "Of what came in this night 1 statement was held when it was taken in. Open now, of all nights: 1 held",
        "day half are gone",
        "lab",
        "2025-05-01",
        "never",
    ):
        assert words in text


def test_the_same_night_gives_the_same_page(two, copy_of):
    """Played again, and played again without warehouse/, the night gives the same page and text; the next is another."""
    root, wanted = copy_of(two), {n: (two / "out" / n).read_bytes() for n in ("changed.html", "changed.txt")}

    def pages() -> dict[str, bytes]:
        return {n: (root / "out" / n).read_bytes() for n in wanted}

    assert play(root, D2) == night.HELD and pages() == wanted
    shutil.rmtree(root / "warehouse")
    assert play(root, D2) == night.HELD and pages() == wanted
    assert play(root, D3) == night.FINE and pages() != wanted
    assert "Nothing came in." in pages()["changed.txt"].decode()


def test_what_moves_without_a_row_is_told_with_its_reason(two, copy_of):
    """A unit taken back, a plot's new area and new rules each move figures, and the text says so of each."""
    from pipeline import settle

    root = copy_of(two)
    path = root / "programme.toml"
    path.write_text(path.read_text().replace("release_window_days = 21", "release_window_days = 60"))
    (root / "inbox/programme/plot.csv").write_text(PLOT.replace("treated,50", "treated,80"))
    with night_demo.clock(D3):
        settle.withdraw(root, "club", "deployment", "A-5", "never went into the water")
    assert play(root, D3) == night.FINE
    text = " ".join((root / "out/changed.txt").read_text().split())
    assert "The programme's rules changed." in text and "MOVED WITHOUT A REASON" not in text
    assert "withdrawal" in text and "programme/plot.csv" in text


def test_a_figure_that_moves_on_the_same_inputs_is_an_alert(two, copy_of):
    """A published figure that was another number on the same inputs exits 8 and stands as an alert until it is right."""
    import pyarrow as pa
    import pyarrow.parquet as pq

    root = copy_of(two)
    kept = root / "warehouse/nights/000000005.parquet"
    rows = read_figures(kept.parent, kept.name)
    at = next(i for i, r in enumerate(rows) if r["measurementType"] == "unit retention" and r["valueFrom"] is not None)
    rows[at]["valueFrom"] = 0.123
    pq.write_table(pa.Table.from_pylist(rows, pq.read_schema(kept)), kept)
    assert play(root, D3) == night.UNSURE
    assert rows[at]["figureID"] in alerts.standing(root)["figures_move_by_new_events"]
    assert "MOVED WITHOUT A REASON" in (root / "out/changed.txt").read_text()
    assert play(root, dt.date(2025, 7, 4)) == night.FINE
    assert "figures_move_by_new_events" not in alerts.standing(root)


def test_an_archive_that_may_not_leave_is_an_alert(one, copy_of):
    """An archive that is asked for and cannot be made exits 7 and stands as an alert until it can; pages and figures are there."""
    root = copy_of(one)
    rules = (root / "programme.toml").read_text()
    (root / "programme.toml").write_text(rules + '\n[publishing]\nlicence = "CC-BY-4.0"\n')
    assert play(root, D2) == KeptBack.exit_code
    assert "`title`" in alerts.standing(root)["archive_passes_its_gate"] and not list(
        (root / "out/archive").glob("*.zip")
    )
    assert (root / "out/pages/inside/index.html").is_file() and (root / "out/changed.txt").is_file()
    (root / "programme.toml").write_text(rules)
    (root / "out/archive").mkdir(exist_ok=True)
    (root / "out/archive/archive.zip").write_text("of yesterday, when it might be published")
    (root / "out/archive/known.parquet").write_text("what was published ever")
    assert play(root, D3) == night.FINE
    assert [p.name for p in (root / "out/archive").iterdir()] == ["known.parquet"]
    assert "archive_passes_its_gate" not in alerts.standing(root)


def test_a_fault_of_ours_is_heard_of_too(one, copy_of, monkeypatch):
    """A night that ends by an exception of no plain sort leaves its alert as any other that did not come to its end."""
    root = copy_of(one)
    monkeypatch.setattr(run, "pages", lambda *_, **__: 1 / 0)
    with pytest.raises(ZeroDivisionError):
        play(root, D2)
    assert "ZeroDivisionError" in alerts.standing(root)[night.FAILED]


def test_the_page_holds_what_people_wrote_as_text_alone(two):
    """Names of files, partners and the programme cannot become markup or lead elsewhere, and the page loads nothing."""
    from dataclasses import replace

    told = changed.changed(two, D2)
    bad = '<script src="//x.example/y"></script>'
    entries = tuple(replace(e, name=bad + ".csv", partner='a"b#?') for e in told.entries)
    page = as_page(replace(told, programme=bad, entries=entries))
    assert "<script" not in page and "&lt;script" in page and 'src="' not in page.replace("src=&quot;", "")
    assert "out/letters/a%22b%23%3F/" in page or "letters/a%22b%23%3F/" in page
    assert "default-src 'none'" in page and "http" not in page.replace("http-equiv", "")
    links = [x for s in sections(told) for x in s.links]
    assert links and all((two / "out" / x).is_file() for x in links)
    assert all(len(line) <= 120 for line in as_text(told).splitlines())


# --- alone and private ----------------------------------------------------------------------------------------


def test_a_night_asks_no_network(two, copy_of):
    """The nights above were played with every way to a network shut; shut, not even a webhook on this machine is reached."""
    root = copy_of(two)
    with network_shut(), pytest.raises(AssertionError, match="asked the network"):
        alerts.settle(root, "late", "club is late", run.silent, {"WRACKLINE_WEBHOOK": "http://127.0.0.1:9/"})


def test_what_a_night_makes_is_its_owners_alone(tmp_path, monkeypatch):
    """Files of a programme that the commands made are 0600 and its folders 0700; a group reads where the environment says so."""
    root = tmp_path / "p"
    assert main(["start", str(root)]) == 0
    (root / "inbox/programme/site.csv").write_text(SITE)
    before = os.umask(0o022)
    os.umask(before)
    assert main(["night", "-p", str(root), "--quiet", "--day", "2025-07-01"]) == 0
    loose = {p for p in root.rglob("*") if stat.S_IMODE(p.lstat().st_mode) & 0o077} - {
        root / "inbox/programme/site.csv"
    }
    assert loose == set() and not stat.S_IMODE(root.stat().st_mode) & 0o077
    assert os.umask(before) == before
    monkeypatch.setenv("WRACKLINE_UMASK", "027")
    assert main(["start", str(tmp_path / "group")]) == 0
    assert stat.S_IMODE((tmp_path / "group/programme.toml").stat().st_mode) == 0o640
    monkeypatch.setenv("WRACKLINE_UMASK", "loose")
    assert main(["night", "-p", str(root)]) == 2


def test_the_command_prints_what_changed_and_exits_as_the_night_did(two, copy_of, capsys):
    """`wrackline night` says its steps on standard error, what changed on standard output, and exits 3 when parts are held."""
    root = copy_of(two)
    assert main(["night", "-p", str(root), "--day", "2025-07-02"]) == night.HELD
    told = capsys.readouterr()
    assert "club/check.csv" in told.out and "ALERT partners_are_on_time: lab was expected" in told.out
    assert "ledger: 0 new drops: 0 entered, 0 held" in told.err and "both_sums_hold: passed" in told.err
    assert main(["night", "-p", str(root), "--day", "soon"]) == 2
    coming = run.tonight(run.open_programme(root)) + dt.timedelta(1)  # embargoes would end before their day
    assert main(["night", "-p", str(root), "--day", str(coming)]) == 2


def test_the_night_belongs_to_the_programmes_own_day(one):
    """An hour before midnight in UTC it is the next day where the programme is, and that is the night's."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(run, "this_instant", lambda: dt.datetime(2025, 7, 1, 23, 30, tzinfo=dt.UTC))
        programme = open_programme(one)
        assert run.tonight(programme) == D1
        from dataclasses import replace

        there = replace(programme, rules=replace(programme.rules, timezone="Europe/Lisbon"))
        assert run.tonight(there) == D2
