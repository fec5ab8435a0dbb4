"""`make bench`: what a take-in, a quiet night, a night with one drop and a full rebuild cost, against DuckDB's bare work.

    python tests/bench/bench.py [--events 10000 1000000] [--folder build/bench]

Every step runs in a process of its own, so that its peak memory is its own; imports are not counted. Baselines, on
the same data in the same run:
    convert   DuckDB reads the same CSV files once and writes them as Parquet (no checks, no ledger)
    read      DuckDB reads every column of the ledger's Parquet segments once
"""

import argparse
import json
import os
import platform
import resource
import shutil
import subprocess
import sys
import time
from collections.abc import Callable
from contextlib import nullcontext
from pathlib import Path

import ledger_of
from many_sites import can_see, opened

Work = Callable[[], str]
BASELINE = {"take": "convert", "rebuild": "read", "quiet": "read", "one drop": "read"}


def main() -> None:
    """Run every step for every size and print the table."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--events", type=int, nargs="+", default=[10_000, 1_000_000])
    parser.add_argument("--folder", type=Path, default=Path("build/bench"))
    parser.add_argument("--step", choices=STEPS, help=argparse.SUPPRESS)
    args = parser.parse_args()
    if args.step:
        print(json.dumps(one_step(args.step, args.folder)))
        return
    print(f"{platform.machine()}, {os.cpu_count()} cores, Python {platform.python_version()}")
    print(f"{'events':>10}  {'step':<9}  {'wall s':>8}  {'peak MB':>8}  {'times its baseline':>18}")
    for events in args.events:
        folder = args.folder / str(events)
        shutil.rmtree(folder, ignore_errors=True)
        folder.mkdir(parents=True)
        ledger_of.make(folder / "p", events)
        seen: dict[str, float] = {}
        for step in STEPS:
            told = in_process_of_its_own(step, folder)
            seen[step] = told["wall"]
            ratio = f"{told['wall'] / seen[BASELINE[step]]:.2f} x {BASELINE[step]}" if step in BASELINE else ""
            line = (
                f"{events:>10,}  {step:<9}  {told['wall']:>8.2f}  {told['peak_mb']:>8.0f}  {ratio:>18}  {told['says']}"
            )
            print(line.rstrip(), flush=True)


def in_process_of_its_own(step: str, folder: Path) -> dict:
    """Run one step in a fresh interpreter."""
    command = [sys.executable, __file__, "--step", step, "--folder", str(folder)]
    done = subprocess.run(command, check=True, stdout=subprocess.PIPE, text=True)
    return json.loads(done.stdout.splitlines()[-1])


def one_step(step: str, folder: Path) -> dict:
    """Do one step; what it needs first is made ready before the clock runs."""
    work = STEPS[step](folder)
    begun = time.perf_counter()
    says = work()
    wall = time.perf_counter() - begun
    return {"wall": wall, "peak_mb": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024, "says": says}


def convert(folder: Path) -> Work:
    """The bare conversion of every CSV file."""
    import duckdb

    def work() -> str:
        out = folder / "converted"
        out.mkdir(exist_ok=True)
        for n, path in enumerate(sorted((folder / "p/inbox").rglob("*.csv"))):
            duckdb.sql(f"copy (from read_csv('{path}')) to '{out}/{n}.parquet' (format parquet, compression zstd)")
        return ""

    return work


def take(folder: Path) -> Work:
    """The whole take-in: read, check, judge, record."""
    import pipeline.apart
    import pipeline.record
    from pipeline import run
    from schemas.kinds import all_kinds

    all_kinds()

    def work() -> str:
        entries = run.take(folder / "p").entries
        return f"{sum(e.receipt.entered for e in entries):,} events entered of {len(entries)} drops"

    return work


def read(folder: Path) -> Work:
    """One read of every column of every segment that a rebuild reads."""
    import duckdb

    def work() -> str:
        rows = 0
        for kind in sorted(p for p in (folder / "p/ledger/segments").iterdir() if p.name not in ("record", "asked")):
            files = f"read_parquet('{kind}/*.parquet', union_by_name=true, hive_partitioning=false)"
            [(n, _)] = duckdb.sql(f"select count(*), bit_xor(hash(t)) from {files} t").fetchall()
            rows += n
        return f"{rows:,} rows"

    return work


def rebuild(folder: Path) -> Work:
    """Projection, figures and letters from the ledger alone."""
    night = _night(folder)
    for made in ("warehouse", "out"):
        shutil.rmtree(folder / "p" / made, ignore_errors=True)
    return night


def one_drop(folder: Path) -> Work:
    """A night with one new drop for one site, and what it opens and computes."""
    ledger_of.one_drop(folder / "p")
    return _night(folder)


def _night(folder: Path) -> Work:
    """A whole night; a night that brings something has the libraries it needs loaded beforehand."""
    import pipeline.apart
    import pipeline.measure
    import pipeline.record
    from pipeline import run

    segments = folder / "p/ledger/segments"

    def work() -> str:
        with opened(segments) if can_see else nullcontext(set()) as seen:
            _, done = run.run_all(folder / "p")
        of = len(list(segments.rglob("*.parquet")))
        return f"{len(seen)} of {of} segments opened, {len(done.computed)} of {done.figures} figures computed"

    return work


def quiet(folder: Path) -> Work:
    """A night without news."""
    from pipeline import run

    def work() -> str:
        assert run.run_all(folder / "p")[1].figures == 0
        return ""

    return work


STEPS: dict[str, Callable[[Path], Work]] = {
    "convert": convert, "take": take, "read": read, "rebuild": rebuild, "quiet": quiet, "one drop": one_drop,
}  # fmt: skip


if __name__ == "__main__":
    main()
