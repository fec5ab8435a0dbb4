"""Stop a night before and after every step that changes the disk, go on the next night, and compare.

    python tests/whole/stops.py                  # every point, twice over: killed, and with the power cut
    python tests/whole/stops.py --kills 1000     # and at random instants

The night that is stopped takes in one new drop that amends, adds and holds, on top of a ledger that is there. A
power cut also loses what was not flushed: bytes without fsync, names whose folder had none.
"""

import argparse
import os
import random
import shutil
import signal
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

import pipeline.examine
import pipeline.measure
import pipeline.outputs.post
import pipeline.record
from pipeline import disk, look, run
from pipeline.starter import start
from schemas.kinds import all_kinds

TABLES = ("out/figures.parquet", "out/indicators.csv")
SITE = "site_key,name,latitude,longitude,datum,uncertainty_m,radius_m,country\nA,Ay,39.1,-9.4,EPSG:4326,5,80,PT\n"
PLOT = "site_key,plot_key,plot_kind,area_m2,control_kind,assigned_by\nA,T1,treated,50,,\nA,C1,control,50,untouched,random\n"
BAGS = "unit_key,method,site_key,plot_key,happened\n" + "".join(f"A-{n},spore bag,A,T1,2025-04-01\n" for n in range(6))
CHECKS = "site_key,unit_key,happened,state\n" + "".join(f"A,A-{n},2025-04-20,attached\n" for n in range(6))
LATER = (
    CHECKS.replace("A-2,2025-04-20,attached", "A-2,2025-04-20,torn")
    + "A,A-0,2025-06-20,absent\nA,A-1,2025-06-20,gone\n"
)


def first_night(root: Path) -> None:
    """A programme that has seen one night, and lies before its second."""
    start(root)
    (root / "inbox/club").mkdir()
    for name, text in (
        ("programme/site.csv", SITE),
        ("programme/plot.csv", PLOT),
        ("club/deployment.csv", BAGS),
        ("club/check.csv", CHECKS),
    ):
        (root / "inbox" / name).write_text(text)
    run.run_all(root)
    (root / "inbox/club/check.csv").write_text(LATER)


@dataclass
class Stopper:
    """Counts the points of a night and ends the process at one of them; `power` loses what was not flushed."""

    at: int
    power: bool
    log: Path | None = None
    seen: int = 0
    unflushed: dict[tuple[int, int], int] = field(default_factory=dict)  # inode -> an open descriptor of it
    names: list[tuple[str, Path, bytes | None]] = field(default_factory=list)  # what, name, what stood there before

    def __call__(self, when: str, what: str, path: Path) -> None:
        if self.power:
            self._note(when, what, path)
        self.seen += 1
        if self.log is not None:
            with self.log.open("a") as f:
                f.write(f"{when} {what} {path.name}\n")
        if self.seen == self.at:
            if self.power:
                self._lose()
            os._exit(9)

    def _note(self, when: str, what: str, path: Path) -> None:
        if when == "before" and what in ("link", "rename"):
            self.names.append((what, path, path.read_bytes() if path.is_file() else None))
        elif when == "after" and what == "mkdir":
            self.names.append((what, path, None))
        elif when == "after" and what == "write":
            fd = os.open(path, os.O_RDWR)
            self.unflushed[os.fstat(fd).st_dev, os.fstat(fd).st_ino] = fd
        elif when == "after" and what == "fsync":
            told = path.stat()
            fd = self.unflushed.pop((told.st_dev, told.st_ino), None)
            if fd is not None:
                os.close(fd)
            self.names = [n for n in self.names if n[1].parent != path]

    def _lose(self) -> None:
        for what, path, before in reversed(self.names):
            if what == "mkdir":
                shutil.rmtree(path, ignore_errors=True)
            elif before is not None:
                path.write_bytes(before)
            else:
                path.unlink(missing_ok=True)
        for fd in self.unflushed.values():
            os.ftruncate(fd, 0)


def in_child(work: Callable[[], None]) -> int:
    """Run `work` in a fork of this warm process; gives its exit code, or minus the signal that ended it."""
    child = os.fork()
    if child == 0:
        code = 1
        try:
            work()
            code = 0
        except BaseException as e:
            sys.stderr.write(f"{type(e).__name__}: {e}\n")
        finally:
            os._exit(code)
    return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])


def night(root: Path, stopper: Stopper | None = None) -> None:
    """One night, watched."""
    if stopper is not None:
        disk.watch = stopper
    run.run_all(root)


def untorn(root: Path, before: dict[str, bytes], after: dict[str, bytes]) -> bool:
    """Whether about.json, where it stands, stands beside the tables of one night only: this one's or the last one's."""
    if not (root / "out/about.json").is_file():
        return True  # which tells readers that tables are being put in place
    return {name: (root / name).read_bytes() for name in TABLES} in (before, after)


def healthy(root: Path, wanted: dict[str, bytes]) -> None:
    """After the next night everything is as if nothing had happened: tables, sums, the ledger's wholeness."""
    run.run_all(root)
    for name, data in wanted.items():
        assert (root / name).read_bytes() == data, f"{name} differs"
    assert look.verify(root).wrong == []
    entries = run.open_ledger(run.open_programme(root).places).entries()
    assert all(e.receipt.holds() for e in entries)
    assert len({(e.partner, e.drop) for e in entries if e.drop}) == len([e for e in entries if e.drop]), (
        "taken in twice"
    )
    letters = {p.name[:6] for p in (root / "out/letters").glob("*/[0-9]*.txt")}
    assert letters == {f"{e.number:06d}" for e in entries if e.drop}, "a letter is missing"


@dataclass
class Yard:
    """A programme before its second night, what that night must give, and the points it passes."""

    root: Path
    folder: Path
    before: dict[str, bytes] = field(default_factory=dict)
    wanted: dict[str, bytes] = field(default_factory=dict)
    points: list[str] = field(default_factory=list)

    def again(self) -> Path:
        """A fresh copy to be stopped in."""
        copy = self.folder / "stopped"
        shutil.rmtree(copy, ignore_errors=True)
        shutil.copytree(self.root, copy)
        return copy


def make_yard(folder: Path) -> Yard:
    """Play the night once to its end, listing every point."""
    yard = Yard(folder / "before", folder)
    assert in_child(lambda: first_night(yard.root)) == 0
    whole, log = yard.again(), folder / "points"
    assert in_child(lambda: night(whole, Stopper(0, power=False, log=log))) == 0
    yard.before = {name: (yard.root / name).read_bytes() for name in TABLES}
    yard.wanted = {name: (whole / name).read_bytes() for name in TABLES}
    yard.points = log.read_text().splitlines()
    return yard


def stop_at(yard: Yard, point: int, power: bool) -> str:
    """Stop at one point (counted from 1) and go on; gives "" when all is well, else what is not."""
    root = yard.again()
    ended = in_child(lambda: night(root, Stopper(point, power)))
    if ended != 9:
        return f"point {point} ({yard.points[point - 1]}) was not reached: exit {ended}"
    if not untorn(root, yard.before, yard.wanted):
        return f"half of two nights after a stop {yard.points[point - 1]} (point {point})"
    if in_child(lambda: healthy(root, yard.wanted)) != 0:
        return f"not whole after a stop {yard.points[point - 1]} (point {point}, {'power cut' if power else 'kill'})"
    return ""


def kill_at(yard: Yard, seconds: float) -> str:
    """Kill the night after so many seconds, wherever it is, and go on."""
    root = yard.again()
    child = os.fork()
    if child == 0:
        try:
            night(root)
        finally:
            os._exit(0)
    time.sleep(seconds)
    os.kill(child, signal.SIGKILL)
    os.waitpid(child, 0)
    if not untorn(root, yard.before, yard.wanted):
        return f"half of two nights after a kill at {seconds:.3f} s"
    return "" if in_child(lambda: healthy(root, yard.wanted)) == 0 else f"not whole after a kill at {seconds:.3f} s"


def main() -> None:
    """Every point twice over, or so many kills."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--kills", type=int, default=0)
    parser.add_argument("--seed", type=int, default=1, help="of the instants")
    parser.add_argument("--every", type=int, default=1, help="try every so-manieth point only")
    args = parser.parse_args()
    all_kinds()
    with tempfile.TemporaryDirectory() as folder:
        yard = make_yard(Path(folder))
        if args.kills:
            begun = time.perf_counter()
            in_child(lambda: night(yard.again()))
            length, dice = time.perf_counter() - begun, random.Random(args.seed)
            wrong = [w for _ in range(args.kills) if (w := kill_at(yard, dice.random() * length))]
            print(f"{args.kills} kills at random instants of {length:.2f} s: {len(wrong)} wrong", *wrong, sep="\n")
        else:
            points = range(1, len(yard.points) + 1, args.every)
            wrong = [w for power in (False, True) for p in points if (w := stop_at(yard, p, power))]
            print(
                f"{len(points)} of {len(yard.points)} points, each killed and each with the power cut: {len(wrong)} wrong",
                *wrong,
                sep="\n",
            )
    sys.exit(bool(wrong))


if __name__ == "__main__":
    main()
