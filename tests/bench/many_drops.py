"""A ledger of many tiny drops, and how long looking after it takes: the price of 20,000 files rather than of rows.

    python tests/bench/many_drops.py [--drops 20000] [--folder build/many-drops]

The ledger is laid down directly (one visit a drop, four files each, no flush), then every step runs in a process of
its own. The baseline is the system's own work: reading every byte of the ledger once.
"""

import argparse
import datetime as dt
import hashlib
import json
import shutil
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

STEPS = ("read", "entries", "verify light", "verify", "rebuild", "measure", "one drop", "measure one", "no news",
         "no news in full", "backup", "backup again", "sweep")  # fmt: skip


def make(root: Path, drops: int) -> None:
    """Lay the ledger down: a site register, then so many visits of one row."""
    import pyarrow as pa
    import pyarrow.parquet as pq

    from pipeline.ledger.entry import BEFORE_FIRST, Entry, Receipt, Segment
    from pipeline.ledger.store import Ledger
    from pipeline.starter import start
    from schemas.kinds import all_kinds

    start(root)
    ledger, columns = Ledger(root / "ledger"), [c.name for c in all_kinds()["visit"].columns]
    ledger.make_folders()
    rules = ledger.keep_bytes((root / "programme.toml").read_bytes())
    previous, instant = BEFORE_FIRST, dt.datetime(2025, 1, 1, tzinfo=dt.UTC)
    for kind in ("part", "record", "visit"):
        (ledger.segments / kind).mkdir()

    def keep(kind: str, row: dict[str, object]) -> Segment:
        made = ledger.scratch / "made"
        pq.write_table(pa.Table.from_pylist([row]), made)
        data = made.read_bytes()
        segment = Segment(kind, hashlib.sha256(data).hexdigest(), len(data), 1, 1)
        made.rename(ledger.segment_path(segment))
        return segment

    for n in range(1, drops + 1):
        day, key = (dt.date(2020, 1, 1) + dt.timedelta(days=n % 2000)), f"V{n}"
        data = f"visit_key,site_key,happened,outcome\n{key},A,{day},found\n".encode()
        drop = hashlib.sha256(data).hexdigest()
        ledger.drop_path(drop).write_bytes(data)
        identity, content = hashlib.sha256(key.encode()).hexdigest()[:32], drop[:32]
        place = {"sheet": "", "row": 2, "part": 1}
        said = {"fate": "entered", "identity": identity, "key": key, "content": content}
        typed = dict.fromkeys(columns, None) | {"visit_key": key, "site_key": "A", "happened": day, "outcome": "found"}
        segments = (
            keep("part", {"sheet": "", "row": 2, "part": 1, "kind": "visit", **said}),
            keep("record", {"sheet": "", "row": 2, "cells": [key, "A", str(day), "found"]}),
            keep("visit", {**place, **said, "partner": "club", **{k: v for k, v in typed.items() if v is not None}}),
        )
        instant += dt.timedelta(seconds=1)
        entry = Entry(
            previous, instant.isoformat(timespec="microseconds"), "drop", rules, "club", drop, len(data), f"v{n}.csv",
            receipt=Receipt(2, 1, 0, 1, 1, 1), segments=segments,
        )  # fmt: skip
        told = entry.to_bytes()
        ledger.entry_path(n).write_bytes(told)
        previous = hashlib.sha256(told).hexdigest()


def step(name: str, root: Path) -> Callable[[], object]:
    """The work of a step; what it imports is loaded already, since that is not what is measured."""
    import duckdb

    import pipeline.examine
    import pipeline.measure
    import pipeline.record
    from pipeline import care, look, run
    from pipeline.programme import open_programme
    from schemas.kinds import all_kinds

    ledger = run.open_ledger(open_programme(root).places)
    if name not in ("no news", "no news in full"):
        all_kinds()
    folder = root.with_name("backup")

    def read() -> None:
        for path in sorted(p for p in ledger.root.rglob("*") if p.is_file()):
            hashlib.sha256(path.read_bytes())

    def one_drop() -> None:
        (root / "inbox/club").mkdir(exist_ok=True)
        row = f"visit_key,site_key,happened,outcome\nNEW{ledger.last_number()},A,2025-07-01,found\n"
        (root / "inbox/club/new.csv").write_text(row)
        assert len([e for e in run.take(root).entries if e.drop]) == 1

    return {
        "read": read,
        "entries": ledger.entries,
        "verify light": lambda: look.verify(root, light=True),
        "verify": lambda: look.verify(root),
        "rebuild": lambda: run.project(root, rebuild=True),
        "measure": lambda: run.refresh(root),
        "one drop": one_drop,
        "measure one": lambda: run.refresh(root),
        "no news": lambda: run.take(root),
        "no news in full": lambda: run.run_all(root),
        "backup": lambda: care.backup(root, folder),
        "backup again": lambda: care.backup(root, folder),
        "sweep": lambda: care.sweep(root),
    }[name]


def main() -> None:
    """Make the ledger unless it is there, run every step, print the table."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--drops", type=int, default=20_000)
    parser.add_argument("--folder", type=Path, default=Path("build/many-drops"))
    parser.add_argument("--step", choices=STEPS, nargs="+", default=STEPS)
    parser.add_argument("--time", action="store_true", help=argparse.SUPPRESS)
    args = parser.parse_args()
    root = args.folder / str(args.drops) / "p"
    if args.time:
        work, begun = step(args.step[0], root), time.perf_counter()
        work()
        print(json.dumps(time.perf_counter() - begun))
        return
    if not root.is_dir():
        begun = time.perf_counter()
        make(root, args.drops)
        print(f"made in {time.perf_counter() - begun:.0f} s", flush=True)
    shutil.rmtree(root.with_name("backup"), ignore_errors=True)
    baseline = 0.0
    for name in args.step:
        command = [
            sys.executable,
            __file__,
            "--drops",
            str(args.drops),
            "--folder",
            str(args.folder),
            "--time",
            "--step",
            name,
        ]
        done = subprocess.run(command, check=True, stdout=subprocess.PIPE, text=True)
        took = json.loads(done.stdout.splitlines()[-1])
        baseline = baseline or took
        print(f"{args.drops:>8,}  {name:<16}  {took:>8.2f} s  {took / baseline:>6.1f} x {args.step[0]}", flush=True)


if __name__ == "__main__":
    main()
