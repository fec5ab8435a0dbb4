"""Stop a back-up, a restoration, a sweep or a redaction at every step that changes the disk, and do it again.

python tests/whole/care_stops.py               # every point of each, killed, and with the power cut
python tests/whole/care_stops.py --few 2       # two of each killed and two with the power cut, spread over its length
"""

import argparse
import shutil
import sys
import tempfile
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from stops import TABLES, Stopper, first_night, in_child

from pipeline import care, disk, look, run
from pipeline.ledger.store import Ledger


@dataclass(frozen=True)
class Job:
    """Something an operator does: how the yard (p: programme, b: back-up) is made ready, done, and looked at afterwards."""

    ready: Callable[[Path], None]
    work: Callable[[Path], object]
    at_once: Callable[[Path], None]  # what holds right after the stop
    again: Callable[[Path], None]  # what holds when it is done again


def drop_of(yard: Path) -> str:
    """The hash of the divers' checks."""
    return next(e.drop for e in Ledger(yard / "p/ledger").entries() if e.name == "check.csv")


def files(root: Path) -> dict[str, bytes]:
    """Every named file of a ledger."""
    folders = (root / "ledger" / f for f in ("drops", "segments", "entries"))
    return {p.relative_to(root).as_posix(): p.read_bytes() for f in folders for p in f.rglob("*") if p.is_file()}


def backed_up(yard: Path) -> None:
    """A back-up of the first night, and a second night since."""
    care.backup(yard / "p", yard / "b")
    run.run_all(yard / "p")


def erased_since(yard: Path) -> None:
    """A back-up that still holds what was erased since."""
    backed_up(yard)
    care.redact(yard / "p", drop_of(yard), "lead", "asked for")


def damaged(yard: Path) -> None:
    """A whole back-up, and a ledger that lost files and an entry and has a byte changed."""
    run.run_all(yard / "p")
    care.backup(yard / "p", yard / "b")
    ledger = Ledger(yard / "p/ledger")
    shutil.rmtree(ledger.segments / "check")
    ledger.entry_path(3).unlink()
    ledger.entry_path(2).write_bytes(b"scribbled")
    next(ledger.drops.iterdir()).write_bytes(b"scribbled")


def littered(yard: Path) -> None:
    """Strays of every sort."""
    run.run_all(yard / "p")
    ledger = yard / "p/ledger"
    (ledger / "scratch/dead").mkdir()
    for name in (
        f"drops/{'1' * 64}",
        f"drops/{'2' * 64}",
        f"segments/part/{'3' * 64}.parquet",
        "scratch/dead/x",
        "scratch/probe",
    ):
        (ledger / name).write_bytes(b"left")


def whole(root: Path) -> None:
    """Nothing is wrong with a ledger, if there is one yet."""
    if (root / "programme.toml").is_file():
        assert look.verify(root).wrong == [], look.verify(root).wrong


def copied(yard: Path) -> None:
    """Done again, the back-up has the very files of the ledger."""
    care.backup(yard / "p", yard / "b")
    assert files(yard / "b") == files(yard / "p")


def restored(yard: Path) -> None:
    """Done again, the ledger is what the back-up holds, and gives figures."""
    care.restore(yard / "b", yard / "p")
    assert files(yard / "b") == files(yard / "p")
    whole(yard / "p")
    run.project(yard / "p", rebuild=True)


def swept(yard: Path) -> None:
    """Done again, nothing is left to sweep, and a night finds nothing new."""
    care.sweep(yard / "p")
    assert care.sweep(yard / "p").removed == ()
    assert not look.verify(yard / "p").notes
    assert run.take(yard / "p").entries == []


def redacted(yard: Path) -> None:
    """Recorded or not, the next redaction or sweep and the next night end it: bytes and letters are gone, figures stay."""
    drop, ledger = drop_of(yard), Ledger(yard / "p/ledger")
    if not any(e.redacts for e in ledger.entries()):
        care.redact(yard / "p", drop, "lead", "asked for")
    care.sweep(yard / "p")
    run.run_all(yard / "p")
    whole(yard / "p")
    assert not ledger.drop_path(drop).exists() and len([e for e in ledger.entries() if e.redacts]) == 1
    [number] = [e.number for e in ledger.entries() if e.drop == drop]
    assert not list((yard / "p/out/letters/club").glob(f"{number:06d}-*"))
    assert [(yard / "p" / t).read_bytes() for t in TABLES] == [
        (yard / "tables" / Path(t).name).read_bytes() for t in TABLES
    ]


def measured(yard: Path) -> None:
    """A second night, its tables noted."""
    run.run_all(yard / "p")
    (yard / "tables").mkdir()
    for name in TABLES:
        shutil.copyfile(yard / "p" / name, yard / "tables" / Path(name).name)


JOBS = {
    "a first back-up": Job(lambda y: None, lambda y: care.backup(y / "p", y / "b"), lambda y: whole(y / "b"), copied),
    "a later back-up": Job(backed_up, lambda y: care.backup(y / "p", y / "b"), lambda y: whole(y / "b"), copied),
    "a back-up after a redaction": Job(erased_since, lambda y: care.backup(y / "p", y / "b"), lambda y: whole(y / "b"), copied),
    "a restoration": Job(damaged, lambda y: care.restore(y / "b", y / "p"), lambda y: whole(y / "b"), restored),
    "a sweep": Job(littered, lambda y: care.sweep(y / "p"), lambda y: whole(y / "p"), swept),
    "a redaction": Job(
        measured, lambda y: care.redact(y / "p", drop_of(y), "lead", "asked for"), lambda y: whole(y / "p"), redacted
    ),
}  # fmt: skip


def watched(job: Job, yard: Path, stopper: Stopper) -> None:
    """Do the job with someone watching each step."""
    disk.watch = stopper
    job.work(yard)


def stop_at(job: Job, yard: Path, stopper: Stopper) -> tuple[int, int]:
    """Exit codes of the stopped job and of what comes after it."""
    ended = in_child(lambda: watched(job, yard, stopper))
    return ended, in_child(lambda: (job.at_once(yard), job.again(yard)))


def tried(points: int, few: int, power: bool) -> Sequence[int]:
    """The points at which a job of so many is stopped: all, or a few within it, others with the power cut than killed."""
    return [points * (2 * n + 1 + power) // (2 * few + 1) for n in range(few)] or range(1, points + 1)


def stopped(job: Job, folder: Path, few: int) -> tuple[int, list[str]]:
    """Stop a job at its points, or a few of them; gives how often, and what was wrong."""
    ready, log, wrong = folder / "ready", folder / "points", []
    assert in_child(lambda: (first_night(ready / "p"), job.ready(ready))) == 0

    def fresh() -> Path:
        shutil.rmtree(folder / "yard", ignore_errors=True)
        return Path(shutil.copytree(ready, folder / "yard"))

    yard = fresh()
    assert in_child(lambda: watched(job, yard, Stopper(0, power=False, log=log))) == 0
    points = log.read_text().splitlines()
    stops = [(n, power) for power in (False, True) for n in tried(len(points), few, power)]
    for n, power in stops:
        ended, after = stop_at(job, fresh(), Stopper(n, power))
        if (ended, after) != (9, 0):
            wrong.append(f"{points[n - 1]} (point {n}, {'power cut' if power else 'kill'}): {ended}, {after}")
    return len(stops), wrong


def main() -> None:
    """Every job."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--few", type=int, default=0)
    parser.add_argument("--only", default="", help="jobs whose name holds this")
    args = parser.parse_args()
    failed = False
    for name, job in ((n, j) for n, j in JOBS.items() if args.only in n):
        with tempfile.TemporaryDirectory() as folder:
            stops, wrong = stopped(job, Path(folder), args.few)
        print(f"{name}: {stops} stops, half of them with the power cut: {len(wrong)} wrong", *wrong, sep="\n  ")
        failed = failed or bool(wrong)
    sys.exit(failed)


if __name__ == "__main__":
    main()
