"""Many processes at one programme: takers, builders and readers, none of whom may notice the others."""

import csv
import io
import json
import shutil
import subprocess
import sys
import threading
import time
from collections import Counter
from pathlib import Path

import pyarrow.parquet as pq
import pytest
from stops import SITE

from pipeline import look, publishing, run
from pipeline.ledger.fates import parts_in, with_parts
from pipeline.outputs.tables import COLUMNS, plain_cell, write_tables
from pipeline.starter import start
from warehouse import database

MANY = 8
PLOT = "site_key,plot_key,plot_kind,area_m2\nA,T1,treated,50\n"
UNITS = 60
BAGS = "unit_key,method,site_key,plot_key,happened\n" + "".join(
    f"A-{n},spore bag,A,T1,2025-04-01\n" for n in range(UNITS)
)

# Waits for the others, lays its file into the inbox in one go, and runs its commands.
RUNNER = """
import sys, time
from pathlib import Path
from pipeline.cli import main
root, mine, *commands = sys.argv[1:]
while not Path(root, "go").exists():
    time.sleep(0.01)
Path(root, mine).rename(Path(root, "inbox/club", Path(mine).name))
sys.exit(max(main([c, "-p", root]) for c in commands))
"""


def checks(first: int, units: int, day: str = "2025-05-01") -> str:
    """A file that tells of some units, every seventh gone."""
    rows = (f"A,A-{n % UNITS},{day},{'absent' if n % 7 == 0 else 'attached'},10\n" for n in range(first, first + units))
    return "site_key,unit_key,happened,state,search_time_min\n" + "".join(rows)


@pytest.fixture(scope="module")
def first_night(tmp_path_factory):
    """A programme whose units are down, after its first night: to be copied, never changed."""
    root = tmp_path_factory.mktemp("many") / "p"
    start(root)
    (root / "inbox/club").mkdir()
    for name, text in (
        ("programme/site.csv", SITE),
        ("programme/plot.csv", PLOT),
        ("club/deployment.csv", BAGS),
        ("club/check-first.csv", checks(0, 5)),
    ):
        (root / "inbox" / name).write_text(text)
    run.run_all(root)
    return root


@pytest.fixture
def programme(first_night, tmp_path):
    """A copy of it."""
    return shutil.copytree(first_night, tmp_path / "p")


def cli(*arguments: object) -> subprocess.CompletedProcess[str]:
    """A command in a process of its own."""
    return subprocess.run(
        [sys.executable, "-m", "pipeline", *map(str, arguments)], capture_output=True, text=True, check=False
    )


class Watcher(threading.Thread):
    """Does one thing over and over until it is told that it is over, and keeps all that was wrong."""

    def __init__(self, root: Path) -> None:
        super().__init__()
        self.root, self.wrong, self.over, self.looks = root, list[str](), False, 0

    def run(self) -> None:
        """Look until it is over."""
        while not self.over:
            try:
                self.looks += self.look()
            except Exception as e:
                self.wrong.append(f"{type(e).__name__}: {e}")
            time.sleep(0.05)  # it is those that write whose work is watched

    def look(self) -> bool:
        """Whether anything could be seen."""
        raise NotImplementedError


class AtProjection(Watcher):
    """Asks the projection, as every command that shows something does."""

    def look(self) -> bool:
        """Its entries have no gap."""
        with run.session(self.root) as (con, _):
            [(entries, last)] = con.sql("select count(*), max(number) from entry").fetchall()
        if entries != last:
            self.wrong.append(f"the projection holds {entries} of {last} entries")
        return True


class AtTables(Watcher):
    """Reads what is published, and keeps the tables of every entry that about.json named."""

    def __init__(self, root: Path) -> None:
        super().__init__(root)
        self.editions: dict[int, tuple[bytes, bytes]] = {}

    def look(self) -> bool:
        """Read the three files as a careful reader does; False when another edition came in between."""
        out = self.root / "out"
        table = (out / "figures.parquet").read_bytes()
        pq.read_table(io.BytesIO(table))  # whole, whatever stands beside it
        try:
            about = (out / "about.json").read_bytes()
            table, text = (out / "figures.parquet").read_bytes(), (out / "indicators.csv").read_bytes()
            if (out / "about.json").read_bytes() != about:
                return False
        except FileNotFoundError:
            return False
        told = json.loads(about)
        rows = pq.read_table(io.BytesIO(table)).to_pylist()
        if list(csv.reader(io.StringIO(text.decode())))[1:] != [
            [plain_cell(r[name]) for name in COLUMNS.names] for r in rows
        ]:
            self.wrong.append("the two tables differ")
        if told["figures"] != len(rows):
            self.wrong.append("about.json speaks of other tables")
        self.editions.setdefault(told["entry"], (table, text))
        if self.editions[told["entry"]] != (table, text):
            self.wrong.append("two editions of one entry")
        return True


def test_eight_processes_leave_one_ledger(programme, tmp_path):
    """Eight processes take overlapping rows in, some build meanwhile: each identity enters once, nobody sees half."""
    (programme / "mine").mkdir()
    runs = []
    for n in range(MANY):
        mine = f"mine/check-{n}.csv"
        (programme / mine).write_text(checks(6 * n, 14))
        commands = ["take", "measure"] if n % 2 else ["take"]
        told = [sys.executable, "-c", RUNNER, str(programme), mine, *commands]
        runs.append(subprocess.Popen(told, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True))
    watchers = AtProjection(programme), AtTables(programme)
    for w in watchers:
        w.start()
    (programme / "go").touch()
    ends = [(*p.communicate(timeout=300), p.returncode) for p in runs]
    for w in watchers:
        w.over = True
        w.join()
    assert [(err, code) for _, err, code in ends] == [("", 0)] * MANY
    run.refresh(programme)

    ledger = run.open_ledger(run.open_programme(programme).places)
    entries = [e for e in ledger.entries() if e.drop]
    assert all(e.receipt.holds() for e in entries)
    assert Counter(e.drop for e in entries).most_common(1)[0][1] == 1 and len(entries) == 4 + MANY
    parts = [
        r
        for e in entries
        if e.name.startswith("check")
        for r in parts_in({s.kind: ledger.segment_path(s) for s in with_parts(e)}, ["identity", "fate"])
    ]
    entered = Counter(p["identity"] for p in parts if p["fate"] == "entered")
    assert set(entered.values()) == {1} and len(entered) == 6 * (MANY - 1) + 14
    assert Counter(p["fate"] for p in parts) == {"entered": len(entered), "repeated": len(parts) - len(entered)}
    assert look.verify(programme).wrong == []

    assert [w.wrong for w in watchers] == [[], []] and all(w.looks > 1 for w in watchers)
    for entry, (table, text) in watchers[1].editions.items():
        figures, day = run.figures_of(programme, run.Asked(entry=entry))
        write_tables(figures, day, tmp_path / "again")
        assert [(tmp_path / "again" / n).read_bytes() for n in publishing.TABLES] == [table, text], entry


def test_who_holds_the_warehouse_open_keeps_it(programme):
    """A reader keeps what it opened while another process takes in, builds and publishes; the next reader sees that."""
    with run.session(programme) as (con, _):
        count = "select count(*) from check_stands"
        before = con.sql(count).fetchall()
        (programme / "inbox/club/check-later.csv").write_text(checks(0, 9, "2025-06-01"))
        assert [(d.returncode, d.stderr) for d in (cli(c, "-p", programme) for c in ("take", "measure"))] == [
            (0, "")
        ] * 2
        assert con.sql(count).fetchall() == before == [(5,)]
    with run.session(programme) as (con, _):
        assert con.sql(count).fetchall() == [(14,)]


def test_a_reader_who_comes_while_the_projection_is_replaced_finds_one(programme, monkeypatch):
    """Between reading which projection is current and opening it, another run may replace it: the new one is opened."""
    attach, late = database._attach, []

    def once_replaced(con, folder, at, beside):
        if not late:
            late.append(at)
            (programme / "inbox/club/check-later.csv").write_text(checks(0, 9, "2025-06-01"))
            run.take(programme)
            run.project(programme)
        return attach(con, folder, at, beside)

    monkeypatch.setattr(database, "_attach", once_replaced)
    with run.session(programme) as (con, _):
        # as of what was current when it was asked
        assert con.sql("select count(*) from check_stands").fetchall() == [(5,)]
    assert not (programme / "warehouse" / late[0].file).exists()


def test_figures_are_those_of_the_head_they_name(programme, monkeypatch):
    """What another run records while figures are measured is not in them: they are as of the entry about.json names."""
    (programme / "inbox/club/check-later.csv").write_text(checks(0, 9, "2025-06-01"))
    run.take(programme)
    run.project(programme)
    opened, head = run.session, run.open_ledger(run.open_programme(programme).places).last_number()

    def late(root, asked):
        if asked.entry == head:
            (programme / "inbox/club/check-latest.csv").write_text(checks(20, 9, "2025-06-01"))
            run.take(programme)
            run.project(programme)
        return opened(root, asked)

    monkeypatch.setattr(run, "session", late)
    run.publish(programme)
    about = json.loads((programme / "out/about.json").read_text())
    published = look.published(programme)
    monkeypatch.undo()
    assert about["entry"] == head
    assert published == run.figures_of(programme, run.Asked(entry=head))[0]
    assert run.publish(programme).figures and look.published(programme) == run.figures_of(programme)[0]


@pytest.mark.parametrize("gone", ["figures.parquet", "indicators.csv", "about.json", "letters/club/*-deployment.txt"])
def test_what_is_missing_is_published_anew(programme, gone):
    """A file that is gone, or a table that was changed, is put back by the next run, the same bytes; nothing is computed for it."""
    before = {name: (programme / "out" / name).read_bytes() for name in publishing.TABLES}
    [path] = (programme / "out").glob(gone)
    path.unlink()
    done = run.refresh(programme)
    assert done.figures and done.computed == () and path.is_file()
    (programme / "out/indicators.csv").write_text("scribbled over")
    assert run.refresh(programme).figures
    assert {name: (programme / "out" / name).read_bytes() for name in publishing.TABLES} == before
    assert run.refresh(programme).figures == 0


def test_other_code_publishes_anew(programme, monkeypatch):
    """After our own code changed everything is measured again, whatever the ledger says, and the reason is told."""
    monkeypatch.setattr(publishing, "made_with", lambda *folders: "other code")
    told = []
    done = run.refresh(programme, told.append)
    assert done.figures and {c.why for c in done.computed} == {"the code changed"}
    n = f"{len(done.computed):,}"
    assert f"{n} figures computed: {n} the code changed" in told
    assert run.refresh(programme).figures == 0
