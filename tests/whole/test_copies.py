"""Back-ups made while runs go on, and programmes made again from them."""

import json
import os
import shutil
import subprocess
import sys

import pytest

from pipeline import care, look, run
from pipeline.cli import main
from pipeline.errors import BadUsage, LedgerDamaged
from pipeline.ledger.store import Ledger

VISIT = "visit_key   site_key   happened   outcome\nD1   CB   2025-03-01   found"
BAGS = "unit_key   method   site_key   plot_key   happened\nB1   spore bag   CB   T1   2025-03-01\nB2   spore bag   CB   T1   2025-03-01"


@pytest.fixture(scope="module")
def first(new_programme):
    """A programme with figures: to be copied, never changed."""
    programme = new_programme()
    programme.partner("club", 'language = "pt"\n')
    programme.take({"club/visit.csv": VISIT, "club/deployment.csv": BAGS})
    (programme.root / "people.toml").write_text('[mb]\nname = "Nobody Real"\n')
    run.refresh(programme.root)
    return programme


@pytest.fixture
def measured(first, copy_of):
    """A copy of it."""
    return copy_of(first)


def figures(root):
    """The bytes of what was published."""
    return [(root / "out" / name).read_bytes() for name in ("figures.parquet", "indicators.csv")]


def files(root):
    """Every file of a ledger but its locks, by name."""
    own = (p for p in (root / "ledger").rglob("*") if p.is_file() and p.name not in ("lock", "at-work"))
    return {p.relative_to(root).as_posix(): p.read_bytes() for p in own}


def flip(path):
    """Change a byte in the middle of a file."""
    data = bytearray(path.read_bytes())
    data[len(data) // 2] ^= 1
    path.write_bytes(data)


def test_a_backup_is_a_whole_programme(measured, tmp_path):
    """A back-up is a programme of its own: whole, with its end proved, and a rebuild gives the same figures."""
    copied = care.backup(measured.root, tmp_path / "b")
    assert copied.head == measured.ledger.head() and copied.entries == copied.head.number
    assert files(tmp_path / "b") == files(measured.root)
    verdict = look.verify(tmp_path / "b")
    assert (verdict.wrong, verdict.notes) == ([], [])
    assert (tmp_path / "b/people.toml").stat().st_mode & 0o777 == 0o600 and not (tmp_path / "b/inbox").exists()
    run.refresh(tmp_path / "b")
    assert figures(tmp_path / "b") == figures(measured.root)


def test_a_backup_has_the_rates_that_the_rules_name(programme, tmp_path):
    """Rates that programme.toml takes from a file go along, so that the back-up and what is restored from it can be read."""
    (programme.root / "rates").mkdir()
    (programme.root / "rates/bank.csv").write_text("Date,NOK\n2025-03-03,11.5\n")
    rules = (programme.root / "programme.toml").read_text()
    programme.rules(rules + '\n[rates]\nfile = "rates/bank.csv"\ncurrencies = ["NOK"]\nsource = "a central bank"\n')
    programme.take({"club/visit.csv": VISIT})
    care.backup(programme.root, tmp_path / "b")
    shutil.rmtree(programme.root)
    put_back = care.restore(tmp_path / "b", programme.root).put_back
    assert put_back[:2] == ["rates/bank.csv", "programme.toml"]
    assert run.open_programme(programme.root).rules.cost.published.currencies == ("NOK",)


def test_a_backup_is_a_whole_prefix_though_a_run_goes_on(measured, tmp_path):
    """A take-in that commits while files are copied is not in this back-up, and is in the next; both are whole."""
    head = measured.ledger.head()

    def commit_meanwhile(done, _):
        if done == 3 and not list((tmp_path / "b/ledger/entries").iterdir()):
            assert len(measured.take({"club/more.csv": VISIT.replace("D1", "D2")})) == 1

    copied = care.backup(measured.root, tmp_path / "b", tick=commit_meanwhile)
    assert copied.head == head and measured.ledger.head().number == head.number + 1
    assert look.verify(tmp_path / "b").wrong == []
    again = care.backup(measured.root, tmp_path / "b")
    assert (again.head, again.entries) == (measured.ledger.head(), 1)
    assert files(tmp_path / "b") == files(measured.root)


TAKING = "import sys; from pathlib import Path; from pipeline import run; run.take(Path(sys.argv[1]))"


def test_backups_beside_a_process_that_takes_in(measured, tmp_path):
    """Back-ups made one after the other while another process records are each whole, and the last has everything."""
    for n in range(5):
        measured.put("club", f"v{n}.csv", VISIT.replace("D1", f"V{n}"))
    taker = subprocess.Popen([sys.executable, "-c", TAKING, str(measured.root)])
    while taker.poll() is None:
        care.backup(measured.root, tmp_path / "b")  # verifies what it made
    assert taker.wait(60) == 0
    care.backup(measured.root, tmp_path / "b")
    assert files(tmp_path / "b") == files(measured.root)


def test_only_what_is_missing_is_copied(measured, tmp_path):
    """A second back-up into the same folder copies the new entry and its files, and touches nothing else."""
    care.backup(measured.root, tmp_path / "b")
    before = {p: p.stat().st_mtime_ns for p in (tmp_path / "b/ledger").rglob("*") if p.is_file()}
    assert care.backup(measured.root, tmp_path / "b").files == 0
    [entry] = measured.take({"club/more.csv": VISIT.replace("D1", "D2")})
    copied = care.backup(measured.root, tmp_path / "b")
    assert (copied.entries, copied.files) == (1, 1 + len(entry.segments))  # its drop and segments
    after = {p: p.stat().st_mtime_ns for p in before}
    assert {p.name for p in before if after[p] != before[p]} <= {"lock", "at-work"}


def forget_the_end(root):
    """Take away everything that saw the ledger's end, so that a run goes on from what is left."""
    for made in ("warehouse", "out"):
        shutil.rmtree(root / made)


def test_a_backup_never_loses_what_only_it_knows(measured, tmp_path):
    """When the ledger lost entries, or parted from its back-up, the back-up is left as it is and says so."""
    care.backup(measured.root, tmp_path / "b")
    kept = files(tmp_path / "b")
    last = measured.ledger.entry_path(measured.ledger.last_number())
    last.unlink()
    with pytest.raises(BadUsage, match=r"has an entry \d+ that the ledger has not.*Nothing was copied"):
        care.backup(measured.root, tmp_path / "b")
    forget_the_end(measured.root)
    measured.take({"club/other.csv": VISIT.replace("D1", "D7")})
    with pytest.raises(BadUsage, match=r"has an entry \d+ that the ledger has not"):
        care.backup(measured.root, tmp_path / "b")
    assert files(tmp_path / "b") == kept


def test_damage_is_not_copied(measured, tmp_path):
    """A drop that was changed since it was recorded does not reach the back-up, and no entry does that needs it."""
    [entry] = [e for e in measured.ledger.entries() if e.name == "visit.csv"]
    flip(measured.ledger.drop_path(entry.drop))
    with pytest.raises(
        LedgerDamaged, match=r"The drop “visit.csv” of club \(entry \d+\) was changed: it was not copied"
    ):
        care.backup(measured.root, tmp_path / "b")
    assert Ledger(tmp_path / "b/ledger").numbers() == []


def test_a_damaged_backup_says_so(measured, tmp_path):
    """A byte that rotted in the back-up is found when the next one is made, and nothing is restored from it."""
    care.backup(measured.root, tmp_path / "b")
    flip(next((tmp_path / "b/ledger/segments/visit").iterdir()))
    for ask in (
        lambda: care.backup(measured.root, tmp_path / "b"),
        lambda: care.restore(tmp_path / "b", tmp_path / "c"),
    ):
        with pytest.raises(LedgerDamaged, match=r"not whole.*The visit segment of entry \d+ was changed"):
            ask()


@pytest.mark.parametrize("where", ["itself", "its ledger", "a folder of something else"])
def test_a_backup_needs_a_folder_of_its_own(measured, tmp_path, where):
    """A back-up is made in a new folder or an earlier back-up, never in the programme or over other things."""
    folder = {
        "itself": measured.root,
        "its ledger": measured.ledger.root / "b",
        "a folder of something else": tmp_path / "o",
    }[where]
    (tmp_path / "o").mkdir()
    (tmp_path / "o/photo.jpg").write_text("x")
    with pytest.raises(BadUsage, match="Name a"):
        care.backup(measured.root, folder)
    assert files(measured.root) and [p.name for p in (tmp_path / "o").iterdir()] == ["photo.jpg"]


def test_a_first_backup_that_was_stopped_is_made_again(measured, tmp_path):
    """What a back-up left that died while it wrote its very first file keeps no later one out of the folder."""
    (there := tmp_path / "b").mkdir()
    (there / ".backup.json.4711.new").write_bytes(b"half of it")
    care.backup(measured.root, there)
    assert look.verify(there).wrong == []


def test_a_backup_is_a_witness(measured, tmp_path):
    """When the ledger's end and every note beside it were rolled back, a back-up elsewhere still tells."""
    shutil.copytree(measured.root, tmp_path / "old")
    measured.take({"club/more.csv": VISIT.replace("D1", "D2")})
    run.refresh(measured.root)
    care.backup(measured.root, tmp_path / "b", inbox=True)
    assert (tmp_path / "b/inbox/club/more.csv").is_file()
    assert look.verify(tmp_path / "old").wrong == []
    [wrong] = look.verify(tmp_path / "old", others=[tmp_path / "b"]).wrong
    assert "the end was cut off" in wrong and str(tmp_path / "b") in wrong
    assert look.verify(measured.root, others=[tmp_path / "b", tmp_path / "b/backup.json"]).wrong == []
    with pytest.raises(BadUsage, match="tells no head"):
        look.verify(measured.root, others=[tmp_path / "nowhere"])


def test_a_backup_of_the_inbox_follows_no_link_and_keeps_nothing_erased(measured, tmp_path):
    """Links are not copied; what was erased leaves the back-up's inbox with the next back-up, though it lies in ours."""
    (tmp_path / "secret").write_text("not ours")
    (measured.root / "inbox/club/link.csv").symlink_to(tmp_path / "secret")
    care.backup(measured.root, tmp_path / "b", inbox=True)
    there = tmp_path / "b/inbox/club"
    assert sorted(p.name for p in there.iterdir()) == ["deployment.csv", "visit.csv"]
    [entry] = [e for e in measured.ledger.entries() if e.name == "visit.csv"]
    care.redact(measured.root, entry.drop, "the lead", "asked for")
    care.backup(measured.root, tmp_path / "b", inbox=True)
    assert [p.name for p in there.iterdir()] == ["deployment.csv"]


def test_a_lost_programme_is_made_again(measured, tmp_path):
    """From a back-up alone a programme is made whose figures are the same bytes, and which goes on."""
    care.backup(measured.root, tmp_path / "b")
    restored = care.restore(tmp_path / "b", tmp_path / "new")
    assert restored.notes == [] and set(restored.put_back) == {"programme.toml", "people.toml", "partners/club.toml"}
    run.refresh(tmp_path / "new")
    assert figures(tmp_path / "new") == figures(measured.root)
    assert look.verify(tmp_path / "new").wrong == []
    shutil.copytree(measured.root / "inbox", tmp_path / "new/inbox", dirs_exist_ok=True)
    assert run.take(tmp_path / "new").entries == []


HARMS = {
    "a byte in a segment": lambda c: flip(next((c.segments / "visit").iterdir())),
    "a drop gone": lambda c: next(c.drops.iterdir()).unlink(),
    "a link in place of a drop": lambda c: ((p := next(c.drops.iterdir())).unlink(), p.symlink_to("nowhere")),
    "a folder in place of a segment": lambda c: ((p := next((c.segments / "visit").iterdir())).unlink(), p.mkdir()),
    "a byte in an entry": lambda c: flip(c.entry_path(2)),
    "an entry gone from the middle": lambda c: c.entry_path(2).unlink(),
    "two entries exchanged": lambda c: (
        c.entry_path(2).rename(c.root / "x"), c.entry_path(3).rename(c.entry_path(2)), (c.root / "x").rename(c.entry_path(3)),
    ),
    "the end cut off": lambda c: c.entry_path(c.last_number()).unlink(),
    "everything gone": lambda c: shutil.rmtree(c.root),
}  # fmt: skip


@pytest.mark.parametrize("harm", HARMS)
def test_a_damaged_ledger_is_mended(measured, tmp_path, harm):
    """Whatever was changed or lost is put back from the back-up, and figures are the same bytes; own files stay."""
    care.backup(measured.root, tmp_path / "b")
    before, published = files(measured.root), figures(measured.root)
    HARMS[harm](measured.ledger)
    (measured.root / "people.toml").write_text("# newer\n")
    restored = care.restore(tmp_path / "b", measured.root)
    assert restored.notes == [] and restored.put_back == []
    assert {k: v for k, v in files(measured.root).items() if k != "ledger/x"} == before
    assert look.verify(measured.root).wrong == []
    (measured.root / "out/about.json").unlink()
    run.project(measured.root, rebuild=True)
    run.refresh(measured.root)
    assert figures(measured.root) == published
    assert (measured.root / "people.toml").read_text() == "# newer\n"


@pytest.mark.parametrize("how", ["newer", "parted"])
def test_nothing_that_only_the_ledger_knows_is_lost(measured, tmp_path, how):
    """A ledger with entries that the back-up has not is left as it is, damaged or not."""
    care.backup(measured.root, tmp_path / "b")
    ledger = measured.ledger
    if how == "newer":
        for dive in ("D2", "D3"):
            measured.take({f"club/more {dive}.csv": VISIT.replace("D1", dive)})
        ledger.entry_path(ledger.last_number() - 1).unlink()  # what comes after it cannot be proved to go on from here
    else:
        ledger.entry_path(ledger.last_number()).unlink()
        forget_the_end(measured.root)
        measured.take({"club/more.csv": VISIT.replace("D1", "D2")})
    before = files(measured.root)
    with pytest.raises(BadUsage, match=r"an entry \d+ that the back-up has not.*Nothing was copied"):
        care.restore(tmp_path / "b", measured.root)
    assert files(measured.root) == before


def test_a_backup_that_is_behind_mends_what_it_knows(measured, tmp_path):
    """Entries recorded since the back-up stay, and what it has is put back; what it lacks is told of."""
    care.backup(measured.root, tmp_path / "b")
    last = measured.ledger.last_number()
    [entry] = measured.take({"club/more.csv": VISIT.replace("D1", "D2")})
    run.refresh(measured.root)
    whole = files(measured.ledger.root)
    measured.ledger.entry_path(2).write_bytes(b"scribbled")
    first = measured.ledger.entry_path(1)
    measured.ledger.drop_path(json.loads(first.read_bytes())["entry"]["drop"]).unlink()
    newest = measured.ledger.drop_path(entry.drop)
    newest.unlink()
    restored = care.restore(tmp_path / "b", measured.root)
    assert restored.copied.head.number == last + 1
    assert len(restored.notes) == 1 and "more.csv" in restored.notes[0]
    assert files(measured.ledger.root) == {p: b for p, b in whole.items() if not str(p).endswith(entry.drop)}


def test_a_backup_that_is_behind_brings_nothing_erased_back(measured, tmp_path):
    """What was erased after the back-up was made is not put back from it."""
    care.backup(measured.root, tmp_path / "b")
    drop = json.loads(measured.ledger.entry_path(2).read_bytes())["entry"]["drop"]
    care.redact(measured.root, drop, "mb", "asked for")
    assert not measured.ledger.drop_path(drop).exists()
    care.restore(tmp_path / "b", measured.root)
    assert not measured.ledger.drop_path(drop).exists()


def test_what_was_recorded_since_the_backup_is_told(measured, tmp_path):
    """Restored to an older end, the programme says who had seen later entries; the next night takes those files again."""
    care.backup(measured.root, tmp_path / "b")
    measured.take({"club/more.csv": VISIT.replace("D1", "D2")})
    run.refresh(measured.root)
    shutil.rmtree(measured.ledger.root)
    restored = care.restore(tmp_path / "b", measured.root)
    assert any("the end was cut off" in n for n in restored.notes)
    took, _ = run.run_all(measured.root)
    assert [e.name for e in took.entries] == ["more.csv"]
    assert look.verify(measured.root).wrong == []


def test_the_commands_tell_what_they_did(measured, tmp_path, capsys):
    """`backup` and `restore` say in words and in JSON what they did, and have exit codes."""
    root, folder = str(measured.root), str(tmp_path / "b")
    assert main(["backup", folder, "-p", root]) == 0
    assert "is whole up to entry" in capsys.readouterr().out
    assert main(["backup", folder, "-p", root, "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["files"] == 0
    assert main(["verify", "-p", root, "--witness", folder]) == 0
    assert main(["restore", folder, "-p", str(tmp_path / "new")]) == 0
    assert "Put back" in capsys.readouterr().out
    os.truncate(next((tmp_path / "b/ledger/drops").iterdir()), 1)
    assert main(["restore", folder, "-p", str(tmp_path / "newer")]) == 4
    assert not (tmp_path / "newer").exists()
