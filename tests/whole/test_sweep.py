"""What stopped runs left is taken away, and nothing that a run at work or an entry still needs."""

import subprocess
import sys
import threading

import pytest

from pipeline import care, look, run
from pipeline.cli import main
from pipeline.errors import Busy, LedgerDamaged

VISIT = "visit_key   site_key   happened   outcome\nD1   CB   2025-03-01   found"


@pytest.fixture(scope="module")
def first(new_programme):
    """A measured programme: to be copied, never changed."""
    programme = new_programme()
    programme.take({"club/visit.csv": VISIT})
    run.refresh(programme.root)
    return programme


@pytest.fixture
def littered(first, copy_of):
    """A programme with everything a stopped run can leave, and the names of it."""
    programme = copy_of(first)
    ledger = programme.ledger
    left = {
        f"drops/{'1' * 64}": b"never recorded",
        f"segments/visit/{'2' * 64}.parquet": b"never named",
        "scratch/dead/half": b"half a drop",
        "scratch/probe-77": b"probe",
    }
    for name, data in left.items():
        (ledger.root / name).parent.mkdir(exist_ok=True)
        (ledger.root / name).write_bytes(data)
    return programme, {*left, "scratch/dead"} - {"scratch/dead/half"}


def kept_files(ledger):
    """Every file of the ledger but its locks, and its bytes."""
    return {p: p.read_bytes() for p in ledger.root.rglob("*") if p.is_file() and p.name not in ("lock", "at-work")}


def test_a_sweep_takes_away_what_nobody_names_and_no_more(littered):
    """Orphans, scratch folders and probes go; every other file stays as it is; a second sweep finds nothing."""
    programme, left = littered
    before = kept_files(programme.ledger)
    told = care.sweep(programme.root, dry_run=True)
    assert set(told.removed) == left and told.bytes == 14 + 11 + 11 + 5
    assert kept_files(programme.ledger) == before
    assert care.sweep(programme.root) == told
    assert {p.relative_to(programme.ledger.root).as_posix() for p in before} - {
        p.relative_to(programme.ledger.root).as_posix() for p in kept_files(programme.ledger)
    } == (left - {"scratch/dead"}) | {"scratch/dead/half"}
    verdict = look.verify(programme.root)
    assert (verdict.wrong, verdict.notes) == ([], [])
    assert care.sweep(programme.root).removed == ()


def test_a_strange_file_is_not_swept(programme):
    """What has no name of ours was laid there by someone: verify names it, and the sweep leaves it."""
    strange = programme.ledger.drops / "notes.txt"
    strange.write_text("mine")
    assert care.sweep(programme.root).removed == () and strange.read_text() == "mine"


def test_nothing_is_swept_from_a_ledger_whose_end_was_cut_off(littered):
    """The drops of entries that were cut off look like strays: they are kept, for they may be all that is left."""
    programme, _ = littered
    before = kept_files(programme.ledger)
    last = programme.ledger.entry_path(programme.ledger.last_number())
    last.unlink()
    with pytest.raises(LedgerDamaged, match=r"saw an entry \d+ that the ledger has not. Nothing was taken away"):
        care.sweep(programme.root)
    assert set(kept_files(programme.ledger)) == set(before) - {last}


def test_nothing_is_swept_from_a_damaged_ledger(littered):
    """While an entry cannot be read, what it names cannot be told from a stray."""
    programme, _ = littered
    programme.ledger.entry_path(2).write_bytes(b"{}")
    before = kept_files(programme.ledger)
    with pytest.raises(LedgerDamaged):
        care.sweep(programme.root)
    assert kept_files(programme.ledger) == before


def test_a_sweep_waits_for_a_take_in(programme, monkeypatch):
    """A drop that a run has kept and not recorded yet is not taken for an orphan, however old its file is."""
    monkeypatch.setattr(care, "PATIENCE_S", 0.1)
    kept, go_on, entries = threading.Event(), threading.Event(), []
    real = run._take_in

    def slow(*args):
        kept.set()
        assert go_on.wait(60)
        return real(*args)

    monkeypatch.setattr(run, "_take_in", slow)
    programme.put("club", "visit.csv", VISIT)
    taker = threading.Thread(target=lambda: entries.extend(run.take(programme.root).entries))
    taker.start()
    assert kept.wait(60)
    with pytest.raises(Busy):
        care.sweep(programme.root)
    monkeypatch.setattr(care, "PATIENCE_S", 60)
    swept = []
    sweeper = threading.Thread(target=lambda: swept.append(care.sweep(programme.root)))
    sweeper.start()
    go_on.set()
    taker.join(60)
    sweeper.join(60)
    assert [e.name for e in entries if e.drop] == ["visit.csv"] and swept[0].removed == ()
    assert look.verify(programme.root).wrong == []


TAKING = "import sys; from pathlib import Path; from pipeline import run; run.take(Path(sys.argv[1]))"


def test_sweeps_and_take_ins_at_once_lose_nothing(programme):
    """Take-ins in other processes go on while sweeps run; every file they took is whole afterwards."""
    for n in range(6):
        programme.put("club", f"v{n}.csv", VISIT.replace("D1", f"D{n}").replace("-03-01", f"-03-0{n + 1}"))
    takers = [subprocess.Popen([sys.executable, "-c", TAKING, str(programme.root)]) for _ in range(2)]
    sweeps = 0
    while any(t.poll() is None for t in takers):
        care.sweep(programme.root)
        sweeps += 1
    assert [t.wait(60) for t in takers] == [0, 0] and sweeps > 1
    verdict = look.verify(programme.root)
    assert verdict.wrong == []
    assert len([e for e in programme.ledger.entries() if e.partner == "club"]) == 6


def test_the_command_tells_what_it_took(littered, capsys):
    """The command lists what it took away, or would."""
    programme, left = littered
    assert main(["sweep", "-p", str(programme.root), "--dry-run"]) == 0
    told = capsys.readouterr().out
    assert told.startswith("Would take away 4 files and folders (41 bytes).") and all(name in told for name in left)
    assert main(["sweep", "-p", str(programme.root)]) == 0
    assert capsys.readouterr().out.startswith("Took away 4")
