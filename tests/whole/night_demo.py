"""Many nights of the demo's drops through Dagster, in this process, while things go wrong; then one clean build beside it.

    python tests/whole/night_demo.py --nights 90 FOLDER

What goes wrong: a drop still grows while it is taken in, the disk is full (for one try, or until the next night), the
process is killed in the middle, the warehouse is damaged, a partner is late. At the end both sums must hold for every
entry, and the tables must be those of one clean build of the same drops, without Dagster and without faults.
"""

import argparse
import datetime as dt
import errno
import os
import random
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

from pipeline import alerts, definitions, disk, inboxes, look, night, run
from pipeline.demo import FILES
from pipeline.errors import Hindered
from pipeline.ledger.store import Ledger
from pipeline.publishing import TABLES

HERE = Path(__file__).parents[2]
FIRST = dt.date(2026, 1, 1)
LATE = "late partner"
FAULTS = ("growing", "full for one try", "full", "killed", "damaged warehouse")
RULES = """
[night]
retries = 1
retry_after_s = 0

[[partner_rhythm]]
partner = "{partner}"
every_days = {every}
dated = {dated}
"""


@dataclass(frozen=True)
class Drop:
    """A file as it is laid into an inbox; mapping: it is one of a partner's mended mappings instead."""

    place: str
    data: bytes
    mapping: bool = False


@dataclass
class Played:
    """What the nights brought: exit codes by number, what went wrong when, and what was told of the late partner."""

    root: Path
    codes: list[int] = field(default_factory=list)
    faults: list[tuple[int, str]] = field(default_factory=list)
    late: list[int] = field(default_factory=list)
    waited: int = 0
    taken: list[list[Drop]] = field(default_factory=list)


def demo_drops() -> list[Drop]:
    """Every file of the demo in the order of its nights; at the end the mended mappings."""
    found = []
    for folder in sorted(p for p in FILES.iterdir() if p.name.startswith("night-")):
        files = sorted(
            (p for p in folder.rglob("*") if p.is_file()), key=lambda p: ("programme" not in p.parts, str(p))
        )
        found += [Drop(p.relative_to(folder).as_posix(), p.read_bytes()) for p in files]
    return found + [Drop(p.name, p.read_bytes(), mapping=True) for p in sorted((FILES / "mended").glob("*.toml"))]


def made(root: Path, rules: str, partners: Path | None) -> Path:
    """A new programme without drops."""
    root.mkdir(parents=True)
    (root / "programme.toml").write_text(rules)
    (root / "inbox").mkdir()
    if partners is not None:
        shutil.copytree(partners, root / "partners")
    return root


def lay(root: Path, drop: Drop) -> None:
    """Put a file where it belongs; a mended mapping reads its drops again."""
    path = root / ("partners" if drop.mapping else "inbox") / drop.place
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(drop.data)


@contextmanager
def clock(day: dt.date) -> Iterator[None]:
    """It is three in the morning of that day, and a little later each time anybody asks."""
    asked, before = [0], run.this_instant

    def instant() -> dt.datetime:
        asked[0] += 1
        return dt.datetime.combine(day, dt.time(3), dt.UTC) + dt.timedelta(milliseconds=asked[0])

    run.this_instant = instant
    try:
        yield
    finally:
        run.this_instant = before


@contextmanager
def watched(watch: Callable[[str, str, Path], None]) -> Iterator[None]:
    """Somebody looks at every step that changes the disk."""
    before, disk.watch = disk.watch, watch
    try:
        yield
    finally:
        disk.watch = before


def one_night(told: Played, day: dt.date, fault: str, dice: random.Random, new: Sequence[Drop], say: run.Say) -> int:
    """One night with that fault; gives its exit code, -9 when it was killed."""
    root, at, steps = told.root, dice.randrange(1, 60), [0]
    growing = next((root / "inbox" / d.place for d in new if not d.mapping), None)

    def full(when: str, what: str, path: Path) -> None:
        steps[0] += 1
        lasts = fault == "full" or steps[0] < at + 2
        if steps[0] >= at and lasts and when == "before" and what in ("write", "mkdir", "link", "rename"):
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC), str(path))

    def grows(when: str, what: str, path: Path) -> None:
        if growing is not None and when == "after" and what == "write" and path.name == "copy" and steps[0] < 4:
            steps[0] += 1
            with growing.open("ab") as f:
                f.write(b"a row that is not yet wh")

    if fault == "damaged warehouse":
        for path in (root / "warehouse").glob("*.duckdb"):
            data = bytearray(path.read_bytes())
            data[len(data) // 3 : len(data) // 2] = bytes(len(data) // 2 - len(data) // 3)
            path.write_bytes(data)
    if fault == "killed":  # a process of its own: threads of libraries that are warm do not outlive a fork
        told_to = [sys.executable, "-W", "ignore", __file__, "--killed-at", str(at), "--day", str(day), str(root)]
        mine = {**os.environ, "PYTHONPATH": str(HERE)}
        return subprocess.run(told_to, check=False, cwd=HERE, env=mine).returncode
    watch = {"full": full, "full for one try": full, "growing": grows}.get(fault)
    with watched(watch or disk.watch), clock(day):
        return definitions.play(root, day, say)


def killed_night(root: Path, day: dt.date, at: int) -> None:
    """A night whose process ends at its so-manieth step that changes the disk."""
    steps = [0]

    def killed(when: str, what: str, path: Path) -> None:
        steps[0] += 1
        if steps[0] == at:
            os.kill(os.getpid(), signal.SIGKILL)

    with watched(killed), clock(day):
        definitions.play(root, day)


def play_nights(
    root: Path, drops: Sequence[Drop], nights: int, late: str, seed: int = 1, say: run.Say = run.silent, faults: Sequence[str] = FAULTS,
    every: int = 2,
) -> Played:  # fmt: skip
    """Lay the drops down evenly, a few a night, and let one night in `every` go wrong; the last two are quiet.

    late: the partner whose files come a third of all nights later than they should.
    """
    dice, told = random.Random(seed), Played(root)
    days = max(1, nights * 3 // 4)
    due = [n * days // len(drops) for n in range(len(drops))]
    behind = [when + (nights // 5 if d.place.startswith(f"{late}/") else 0) for when, d in zip(due, drops, strict=True)]
    owed: list[Drop] = []
    for n in range(nights):
        day = FIRST + dt.timedelta(days=n)
        new = [d for when, d in zip(behind, drops, strict=True) if when == n]
        for drop in new:
            lay(root, drop)
        fault = faults[len(told.faults) % len(faults)] if n % every == every - 1 and n < nights - 2 else ""
        if fault:
            told.faults.append((n, fault))
        seen = inboxes.look(root, inboxes.look(root, "").memory)
        try:
            code = one_night(told, day, fault, dice, [*owed, *new], say)
        except Hindered as e:
            code = e.exit_code
        if fault == "growing":
            told.waited += _let_it_end(root, new, seen.memory)
        told.codes.append(code)
        if "partners_are_on_time" in alerts.standing(root):
            told.late.append(n)
        mended = sorted({Path(d.place).stem for d in new if d.mapping})
        with clock(day):
            for partner in mended:
                run.retake(root, partner)
        told.taken.append(new)
        say(f"night {n + 1} of {nights}: {len(new)} files, {fault or 'nothing wrong'}, exit {code}")
    return told


def _let_it_end(root: Path, new: Sequence[Drop], memory: str) -> int:
    """The writer ends: the file is as it should be. Gives how many the sensor let wait meanwhile."""
    grown = [d for d in new if not d.mapping][:1]
    waited = len(inboxes.look(root, memory).growing)
    for drop in grown:
        lay(root, drop)
    return waited


def clean_build(told: Played, root: Path) -> dict[str, bytes]:
    """The same drops in the order that the ledger has them, without Dagster and faults, measured once at the end."""
    for entry in Ledger(told.root / "ledger").entries():
        if not entry.drop:
            continue
        mapping = told.root / "ledger/drops" / entry.mapping
        (root / f"partners/{entry.partner}.toml").parent.mkdir(exist_ok=True)
        data = mapping.read_bytes()
        if data:
            (root / f"partners/{entry.partner}.toml").write_bytes(data)
        if entry.retaken:
            run.retake(root, entry.partner, entry.drop)
        else:
            lay(root, Drop(f"{entry.partner}/{entry.name}", (told.root / "ledger/drops" / entry.drop).read_bytes()))
            run.take(root)
    run.refresh(root)
    return tables(root)


def tables(root: Path) -> dict[str, bytes]:
    """The tables, byte for byte."""
    return {name: (root / "out" / name).read_bytes() for name in TABLES}


def sums_hold(root: Path) -> bool:
    """Whether both sums hold for every entry, in the ledger and in the projection, and the ledger is whole."""
    check = next(c for s in night.STEPS for c in s.checks if c.name == "both_sums_hold")
    verdict = check.do(night.Night(root, FIRST), night.Done("", {}))
    return not verdict.wrong and not look.verify(root).wrong and verdict.counts["parts"] != 0


def demo_rules(late: str, nights: int) -> str:
    """The demo's rules, with a rhythm for the late partner and quick retries."""
    return (FILES / "programme.toml").read_text() + RULES.format(partner=late, every=max(2, nights // 6), dated=FIRST)


def main() -> None:
    """Play, compare, tell."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--nights", type=int, default=90)
    parser.add_argument("--killed-at", type=int, default=0, help="play one night of --day and end at that step")
    parser.add_argument("--day", type=dt.date.fromisoformat, default=FIRST)
    args = parser.parse_args()
    if args.killed_at:
        killed_night(args.folder, args.day, args.killed_at)
        return
    shutil.rmtree(args.folder, ignore_errors=True)
    late, begun = "wharfside", time.perf_counter()
    rules = demo_rules(late, args.nights)
    told = play_nights(
        made(args.folder / "played", rules, FILES / "partners"), demo_drops(), args.nights, late, say=print
    )
    spent = time.perf_counter() - begun
    holds = sums_hold(told.root)
    same = clean_build(told, made(args.folder / "clean", rules, FILES / "partners")) == tables(told.root)
    counts = {f: sum(g == f for _, g in told.faults) for f in FAULTS}
    print(
        f"{args.nights} nights in {spent:.0f} s; {counts}; the sensor let {told.waited} wait; late on {len(told.late)} nights"
    )
    print(f"exit codes: { {c: told.codes.count(c) for c in sorted(set(told.codes))} }")
    print(f"both sums hold: {holds}; the tables are those of one clean build: {same}")
    sys.exit(not (holds and same))


if __name__ == "__main__":
    main()
