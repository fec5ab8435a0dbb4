"""What the world does to a night: full disks, files that come and go, too little memory, damage; and what comes of it."""

import datetime as dt
import errno
import os
import resource
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import pytest
from stops import LATER, TABLES, first_night, untorn

from pipeline import apart, disk, look, run
from pipeline.cli import main
from pipeline.errors import Hindered, LedgerDamaged
from pipeline.examine import one_behind
from pipeline.intake.sheet import Unreadable
from pipeline.ledger.staging import Kept
from pipeline.ledger.store import Ledger

HINDERED = Hindered.exit_code
OTHERS = "visit_key,site_key,happened,outcome\nX,A,2025-04-20,found\n"


@pytest.fixture(scope="module")
def before(tmp_path_factory):
    """A programme before its second night, and the tables that this night gives: to be copied, never changed."""
    root = tmp_path_factory.mktemp("fire") / "before"
    first_night(root)
    whole = shutil.copytree(root, root.with_name("whole"))
    run.run_all(whole)
    return root, {name: (whole / name).read_bytes() for name in TABLES}


@pytest.fixture
def programme(before, tmp_path):
    """A copy of it to be shot at."""
    return shutil.copytree(before[0], tmp_path / "p")


def entries(root: Path) -> list:
    """Every entry of a drop."""
    return [e for e in Ledger(root / "ledger").entries() if e.drop]


def names(root: Path) -> list[str]:
    """What the drops taken in were called, in order."""
    return [e.name for e in entries(root)]


def change_a_byte(path: Path) -> None:
    """Change the byte in a file's middle."""
    data = bytearray(path.read_bytes())
    data[len(data) // 2] ^= 1
    path.chmod(0o644)
    path.write_bytes(data)


# --- disks --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("code", [errno.ENOSPC, errno.EROFS])
def test_a_disk_that_refuses_a_step_stops_the_night_plainly(before, tmp_path, monkeypatch, code):
    """Whatever step a full or read-only disk refuses, a sentence says so, nothing is half done, the next night goes on."""
    root, wanted = before
    last = {name: (root / name).read_bytes() for name in TABLES}
    steps = []
    with monkeypatch.context() as patch:
        patch.setattr(disk, "watch", lambda when, what, path: steps.append(when))
        run.run_all(shutil.copytree(root, tmp_path / "counted"))
    few = range(1 if code == errno.ENOSPC else 8, len(steps) * 9 // 10, max(1, len(steps) // 3))
    for refused in few:
        copy, at = shutil.copytree(root, tmp_path / f"at-{refused}"), [0]

        def refuse(when: str, what: str, path: Path, at: list[int] = at, refused: int = refused) -> None:
            at[0] += 1
            if at[0] >= refused and when == "before" and what in ("write", "mkdir", "link", "rename"):
                raise OSError(code, os.strerror(code), str(path))

        with monkeypatch.context() as patch:
            patch.setattr(disk, "watch", refuse)
            with pytest.raises(Hindered, match=r"The disk is full \(|may not write or read there \("):
                run.run_all(copy)
        assert untorn(copy, last, wanted)
        assert look.verify(copy).wrong == []
        run.run_all(copy)
        assert {name: (copy / name).read_bytes() for name in TABLES} == wanted


NAMESPACE = ("unshare", "--map-root-user", "--mount", "sh", "-c")


def may_mount() -> bool:
    """Whether a disk of our own can be had for a test."""
    if not shutil.which("unshare"):
        return False
    told = subprocess.run([*NAMESPACE, "mount -t tmpfs -o size=1m tmpfs /mnt"], capture_output=True, check=False)
    return told.returncode == 0


@pytest.mark.skipif(not may_mount(), reason="no disk of one's own can be mounted here")
def test_a_real_disk_that_is_full_or_read_only(before, tmp_path):
    """On a disk that is full, and then read-only, the commands say so and exit 6; with room the night gives its bytes."""
    root, wanted = before
    script = f"""
        set -e
        mount -t tmpfs -o size=16m tmpfs {tmp_path}
        cp -a {root} {tmp_path}/p
        try() {{ set +e; {sys.executable} -m pipeline "$@" -p {tmp_path}/p >&2; echo "exit $?"; set -e; }}
        dd if=/dev/zero of={tmp_path}/filler bs=4k 2>/dev/null || true
        try take
        try measure
        rm {tmp_path}/filler
        mount -o remount,ro {tmp_path}
        try take
        mount -o remount,rw {tmp_path}
        try take
        dd if=/dev/zero of={tmp_path}/filler bs=4k 2>/dev/null || true
        try measure
        rm {tmp_path}/filler
        try measure
        try verify
        cat {" ".join(f"{tmp_path}/p/{name}" for name in TABLES)} | sha256sum | cut -d" " -f1
    """
    here = Path(__file__).parent.parent.parent
    done = subprocess.run([*NAMESPACE, script], capture_output=True, text=True, check=False, cwd=here)
    lines = done.stdout.split("\n")
    told = [f"exit {n}" for n in (HINDERED, HINDERED, HINDERED, 3, HINDERED, 0, 0)]
    assert lines[:7] == told, done.stderr
    assert "Traceback" not in done.stderr
    assert done.stderr.count("wrackline: The disk is full") == 3 and done.stderr.count("may not write or read") == 1
    (tmp_path / "both").write_bytes(b"".join(wanted.values()))
    assert lines[7] == disk.sha256_of(tmp_path / "both")


# --- drops --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("when", ["listed", "hashed"])
def test_a_drop_that_is_taken_away_meanwhile_is_left(programme, monkeypatch, when):
    """A file that goes between being listed and being read is told of and left; the others go in."""
    (programme / "inbox/club/visit.csv").write_text(OTHERS)
    gone, said = programme / "inbox/club/check.csv", []
    if when == "hashed":  # only one as long as a known drop is looked at before it is copied
        gone.write_bytes(b"x" * entries(programme)[0].size)
    name = "sha256_of" if when == "hashed" else "copy_hashed"
    reads = getattr(disk, name)

    def taken_away(path: Path, *to: Path):
        if path == gone and when == "listed":
            gone.unlink()
        told = reads(path, *to)
        if path == gone:
            gone.unlink()
        return told

    monkeypatch.setattr(disk, name, taken_away)
    took = run.take(programme, said.append)
    assert [e.name for e in took.entries] == ["visit.csv"]
    assert took.left == ["club/check.csv was taken away before it could be read."] and took.left[0] in said


def test_a_drop_that_grows_while_it_is_read_is_left_for_the_next_night(before, programme, monkeypatch):
    """A file that changes while the inboxes are gone through is not taken in half: the next night takes it whole."""
    (programme / "inbox/club/visit.csv").write_text(OTHERS)
    path, copy_hashed = programme / "inbox/club/check.csv", disk.copy_hashed
    path.write_text(LATER[: len(LATER) // 2])

    def while_it_grows(source: Path, to: Path) -> tuple[str, int]:
        told = copy_hashed(source, to)
        if source == path:
            path.write_text(LATER)
        return told

    with monkeypatch.context() as patch:
        patch.setattr(disk, "copy_hashed", while_it_grows)
        took = run.take(programme)
    assert [e.name for e in took.entries] == ["visit.csv"]
    assert took.left == ["club/check.csv is still being written; the next run takes it."]
    [entry] = run.take(programme).entries
    assert entry.drop == disk.sha256_of(path) and look.verify(programme).wrong == []


def test_a_drop_that_pauses_is_kept_as_it_was(programme):
    """A file whose writer paused goes in as it was, under its own hash; grown, it is news and enters what was added."""
    path = programme / "inbox/club/check.csv"
    half = LATER[: LATER.index("A,A-0,2025-06-20")]
    path.write_text(half)
    [first] = run.take(programme).entries
    assert run.open_ledger(run.open_programme(programme).places).drop_path(first.drop).read_text() == half
    path.write_text(LATER)
    [second] = run.take(programme).entries
    assert (second.receipt.entered, second.receipt.held, second.receipt.repeated) == (1, 1, 6)


def test_a_drop_that_may_not_be_read_is_left(programme, monkeypatch):
    """A file whose owner lets nobody read it is told of and left; the others go in."""
    (programme / "inbox/club/visit.csv").write_text(OTHERS)
    copy_hashed = disk.copy_hashed

    def forbidden(path: Path, to: Path) -> tuple[str, int]:
        if path.name == "check.csv":
            raise PermissionError(errno.EACCES, "Permission denied", str(path))
        return copy_hashed(path, to)

    monkeypatch.setattr(disk, "copy_hashed", forbidden)
    took = run.take(programme)
    assert [e.name for e in took.entries] == ["visit.csv"]
    assert took.left == ["club/check.csv may not be read (Permission denied); have that changed."]


def test_a_clock_that_goes_back_changes_no_figure(before, programme, monkeypatch):
    """On a night whose clock lies a year behind, entries still follow in time and the night gives its bytes."""
    now = run.this_instant()
    monkeypatch.setattr(run, "this_instant", lambda: now - dt.timedelta(days=365))
    [entry] = run.run_all(programme)[0].entries
    assert entry.recorded > entries(programme)[-2].recorded
    assert {name: (programme / name).read_bytes() for name in TABLES} == before[1]


def test_a_disk_that_fails_is_not_the_drops_fault(programme, monkeypatch):
    """When the disk fails while a kept drop is read, the night stops plainly; the drop is not recorded as unreadable."""
    opened = Path.open

    def failing(path: Path, mode: str = "r", *rest, **more):
        if path.parent.name == "drops" and mode == "rb":
            raise OSError(errno.EIO, os.strerror(errno.EIO), str(path))
        return opened(path, mode, *rest, **more)

    seen = names(programme)
    with monkeypatch.context() as patch:
        patch.setattr(Path, "open", failing)
        with pytest.raises(Hindered, match="Input/output error"):
            run.take(programme)
    assert names(programme) == seen
    assert [e.name for e in run.take(programme).entries] == ["check.csv"]


# --- memory -------------------------------------------------------------------------------------------------


READ_DROP, BIG = apart.read_drop, 1 << 20


def ended_by_the_system(path, blank, *rest):
    """What becomes of a process that the system ends for want of memory."""
    if blank.size > BIG:
        os.kill(os.getpid(), 9)
    return READ_DROP(path, blank, *rest)


def with_little_memory(path, blank, *rest):
    """Read a big drop in a process that gets little more memory than it has."""
    if blank.size > BIG:
        in_use = int(Path("/proc/self/statm").read_text().split()[0]) * resource.getpagesize()
        resource.setrlimit(resource.RLIMIT_AS, (in_use + (24 << 20),) * 2)
    return READ_DROP(path, blank, *rest)


@pytest.mark.parametrize("worker", [ended_by_the_system, with_little_memory])
def test_a_drop_too_big_for_the_machine_keeps_no_other_out(programme, monkeypatch, worker):
    """A drop that needs more memory than there is is named, nothing of it is recorded, the others go in; later it may."""
    rows = "".join(f"A,A-{n % 6},2025-05-{n % 28 + 1:02},attached,{n}\n" for n in range(300_000))
    (programme / "inbox/club/check.csv").write_text("site_key,unit_key,happened,state,search_time_min\n" + rows)
    (programme / "inbox/club/visit.csv").write_text(OTHERS)
    with monkeypatch.context() as patch:
        patch.setattr(apart, "BIG", BIG)
        patch.setattr(apart, "read_drop", worker)
        took = run.take(programme)
    assert [e.name for e in took.entries] == ["visit.csv"]
    assert took.left == ["club/check.csv needs more memory than there is; nothing of it is recorded."]
    assert look.verify(programme).wrong == []
    (programme / "inbox/club/check.csv").write_text(LATER)
    assert [e.name for e in run.take(programme).entries] == ["check.csv"]


def test_a_big_drop_read_apart_says_the_same(programme, tmp_path, monkeypatch):
    """A drop read in a process of its own gives the entry that it gives when it is read here."""
    other = shutil.copytree(programme, tmp_path / "other")
    [here] = run.take(other).entries
    monkeypatch.setattr(apart, "BIG", 0)
    [there] = run.take(programme).entries
    assert (there.drop, there.segments, there.receipt) == (here.drop, here.segments, here.receipt)


@pytest.mark.parametrize("wrong", [OSError, AttributeError, TypeError])
def test_a_c_library_that_cannot_be_told_to_keep_memory_stops_nothing(monkeypatch, wrong):
    """Where the C library is another one, or cannot be had, the process that reads a big drop goes on as it is."""
    asked = []

    def none(name: None) -> None:
        asked.append(name)
        raise wrong

    monkeypatch.setattr(apart.ctypes, "CDLL", none)
    apart._keep_memory()
    assert asked == [None]


def test_a_reader_that_is_ended_while_it_waits_is_begun_anew(programme, monkeypatch):
    """A process that the system ends before there is anything to read costs no drop."""
    begin = apart.Reader.begin

    def ended(reader: apart.Reader, size: int) -> None:
        waits = reader._pool is None
        begin(reader, size)
        if waits and not seen:
            seen.append(reader._pool.submit(os.getpid).result())
            os.kill(seen[0], 9)

    seen: list[int] = []
    monkeypatch.setattr(apart, "BIG", 0)
    monkeypatch.setattr(apart.Reader, "begin", ended)
    took = run.take(programme)
    assert seen and ([e.name for e in took.entries], took.left) == (["check.csv"], [])


def test_a_reader_ends_with_a_run_that_is_killed():
    """The process that reads a big drop does not outlive a run that is killed."""
    told = """
import os, time
from pipeline import apart
if __name__ == "__main__":
    reader = apart.Reader()
    reader.begin(apart.BIG)
    print(reader._pool.submit(os.getpid).result(), flush=True)
    os.kill(os.getpid(), 9)
"""
    with tempfile.NamedTemporaryFile("w", suffix=".py") as script:
        script.write(told)
        script.flush()
        here = Path(__file__).parent.parent.parent
        done = subprocess.run([sys.executable, script.name], cwd=here, env={**os.environ, "PYTHONPATH": str(here)}, stdout=subprocess.PIPE, text=True, check=False)  # fmt: skip
    pid = int(done.stdout)
    for _ in range(100):
        if not Path(f"/proc/{pid}").exists():
            return
        time.sleep(0.1)
    pytest.fail(f"process {pid} is still there")


def test_a_full_disk_goes_before_a_torn_file():
    """Where writing fails for want of room while the file proves torn, the disk is told of: the file may be whole."""

    def full(_: object) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    def torn():
        yield Kept("club", 0)
        raise Unreadable("it breaks off")

    with pytest.raises(OSError, match="No space left"):
        one_behind(full, torn())


def test_too_little_memory_to_judge_stops_plainly(programme, monkeypatch):
    """When memory runs out where every drop is judged together, the night stops with a sentence and nothing is recorded."""
    import pipeline.record

    def no_memory(*_: object) -> None:
        raise MemoryError

    seen = names(programme)
    with monkeypatch.context() as patch:
        patch.setattr(pipeline.record, "judge", no_memory)
        with pytest.raises(Hindered, match="too little memory"):
            run.take(programme)
    assert names(programme) == seen
    assert [e.name for e in run.take(programme).entries] == ["check.csv"]


# --- damage -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("harm", ["projection", "pointer", "pointer gone", "warehouse gone", "estimates", "note"])
def test_a_damaged_warehouse_is_made_anew(before, programme, harm):
    """Whatever is damaged of what can be made anew is made anew by the next night, which gives its bytes."""
    warehouse = programme / "warehouse"
    [file] = warehouse.glob("*.duckdb")
    if harm == "projection":
        file.write_bytes(file.read_bytes()[:4096] + b"\xff" * 9000)
    elif harm == "warehouse gone":
        shutil.rmtree(warehouse)
    elif harm == "pointer gone":
        (warehouse / "current").unlink()
    else:
        name = {"pointer": "current", "estimates": "estimates.json", "note": "published.json"}[harm]
        (warehouse / name).write_bytes(b'{"file": "warehouse-\xff')
    run.run_all(programme)
    assert {name: (programme / name).read_bytes() for name in TABLES} == before[1]


def test_a_damaged_projection_is_told_of_plainly(programme, capsys):
    """A command that only looks does not mend: it says that the projection is damaged and how to have it made anew."""
    [file] = (programme / "warehouse").glob("*.duckdb")
    file.write_bytes(file.read_bytes()[:4096] + b"\xff" * 9000)
    assert main(["held", "-p", str(programme)]) == HINDERED
    assert "`wrackline rebuild` makes it anew" in capsys.readouterr().err
    assert main(["rebuild", "-p", str(programme)]) == 0 == main(["held", "-p", str(programme)])


@pytest.mark.parametrize(
    ("harm", "says"),
    [
        ("a byte of an entry", "Entry 2 "),
        ("an entry gone", "Entry 2 is gone"),
        ("the end cut off", "The ledger is not the one that warehouse/current saw: its entry 4 is gone"),
        ("the end exchanged", "its entry 4 is gone or was exchanged"),
        ("all of it gone", "its entry 4 is gone"),
        ("a segment not projected yet", "The visit segment of entry 5 "),
        ("a ruling's segment", "The ruling segment of entry 5 "),
    ],
)
def test_a_damaged_ledger_is_refused_and_nothing_added(programme, capsys, harm, says):
    """A night on a damaged ledger ends with exit 4 and where the damage is, and adds no entry."""
    ledger = programme / "ledger"
    paths = sorted((ledger / "entries").iterdir())
    if harm == "a byte of an entry":
        change_a_byte(paths[1])
    elif harm == "an entry gone":
        paths[1].unlink()
    elif harm == "the end cut off":
        paths[3].unlink()
    elif harm == "the end exchanged":
        (programme / "out/about.json").unlink()
        paths[3].unlink()
        (programme / "inbox/club/check.csv").unlink()
        shutil.move(programme / "warehouse", programme / "away")
        (programme / "inbox/club/other.csv").write_text(OTHERS)
        run.take(programme)  # goes on from an older copy, as the message tells how to
        shutil.move(programme / "away", programme / "warehouse")
        (programme / "inbox/club/check.csv").write_text(LATER)
    elif harm == "all of it gone":
        shutil.rmtree(ledger)
    else:
        kind = "visit" if "projected" in harm else "ruling"
        name = "programme/ruling.csv" if kind == "ruling" else "club/visit.csv"
        ruling = "happened,settles,choice,decided_by,reason\n2025-06-01,nothing,none,lead,because\n"
        (programme / "inbox" / name).write_text(ruling if kind == "ruling" else OTHERS)
        later = (programme / "inbox/club/check.csv").read_text()
        (programme / "inbox/club/check.csv").unlink()
        [entry] = run.take(programme).entries
        (programme / "inbox/club/check.csv").write_text(later)
        change_a_byte(Ledger(ledger).segment_path(entry.segment(kind)))
        if kind == "ruling":
            with pytest.raises(LedgerDamaged):
                run.project(programme)
    there = len(list((ledger / "entries").glob("*"))) if ledger.exists() else 0
    capsys.readouterr()
    assert main(["take", "-p", str(programme)]) == LedgerDamaged.exit_code
    told = capsys.readouterr().err
    assert says in told and "Traceback" not in told
    assert len(list((ledger / "entries").glob("*"))) == there
