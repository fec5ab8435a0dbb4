"""`make bench`: what each part of the work costs at several sizes, beside bare work on the same data in the same run.

    python tests/bench/bench.py [--events 10000 1000000] [--folder build/bench]

Every step runs in a process of its own, so that its peak memory is its own; imports are not counted. First the drops are made. Baselines:
    convert   DuckDB reads the same CSV files once and writes them as Parquet (no checks, no ledger)
    read      DuckDB reads every column of the ledger's Parquet segments once
    group     DuckDB scans and groups the rows of the three main indicators once
    analyst   a short polars script makes the three indicators from the same CSV files (`by_hand.py`)
Wall time tells on a quiet machine only; seconds of computing (CPU) are those of a step and its helpers. Each line is
added to `results.jsonl` in the folder; `growth.py` makes exponents and a plot of it.
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
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent.parent / "whole"))

from steps import BASELINE, STEPS

HEAD = f"{'events':>11}  {'step':<12}  {'wall s':>8}  {'CPU s':>8}  {'peak MB':>8}  {'disk MB':>8}  {'times its baseline: wall, CPU':>30}"


def main() -> None:
    """Run every step for every size and print the table."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--events", type=int, nargs="+", default=[10_000, 1_000_000])
    parser.add_argument("--folder", type=Path, default=Path("build/bench"))
    parser.add_argument("--leave", nargs="*", default=[], choices=STEPS, help="steps that are not run")
    parser.add_argument("--step", choices=STEPS, help=argparse.SUPPRESS)
    args = parser.parse_args()
    if args.step:
        print(json.dumps(one_step(args.step, args.folder)))
        return
    print(f"{platform.machine()}, {os.cpu_count()} cores, Python {platform.python_version()}")
    print(HEAD)
    args.folder.mkdir(parents=True, exist_ok=True)
    for events in args.events:
        folder = args.folder / str(events)
        shutil.rmtree(folder, ignore_errors=True)
        folder.mkdir(parents=True)
        seen: dict[str, dict] = {}
        for step in STEPS:
            if step in args.leave:
                continue
            seen[step] = told = in_process_of_its_own(step, folder)
            print(line_of(events, step, told, seen.get(BASELINE.get(step, ""))), flush=True)
            with (args.folder / "results.jsonl").open("a") as results:
                results.write(json.dumps({"events": events, "step": step, **told}) + "\n")


def line_of(events: int, step: str, told: dict, baseline: dict | None) -> str:
    """A line of the table."""
    ratio = ""
    if baseline:
        wall, cpu = (told[c] / max(baseline[c], 0.01) for c in ("wall", "cpu"))
        ratio = f"{wall:.2f}, {cpu:.2f} x {BASELINE[step]}"
    return (
        f"{events:>11,}  {step:<12}  {told['wall']:>8.2f}  {told['cpu']:>8.2f}  {told['peak_mb']:>8.0f}  {told['disk_mb']:>8.1f}  "
        f"{ratio:>30}  {told['says']}"
    ).rstrip()


def in_process_of_its_own(step: str, folder: Path) -> dict:
    """Run one step in a fresh interpreter."""
    command = [sys.executable, __file__, "--step", step, "--folder", str(folder)]
    done = subprocess.run(command, check=True, stdout=subprocess.PIPE, text=True)
    return json.loads(done.stdout.splitlines()[-1])


def one_step(step: str, folder: Path) -> dict:
    """Do one step; what it needs first is made ready before the clock runs. disk_mb: by how much the programme grew."""
    work = STEPS[step](folder)
    before, begun, computed = on_disk(folder), time.perf_counter(), computing()
    says = work()
    wall, cpu = time.perf_counter() - begun, computing() - computed
    peak = max(resource.getrusage(who).ru_maxrss for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)) / 1024
    return {"wall": wall, "cpu": cpu, "peak_mb": peak, "disk_mb": (on_disk(folder) - before) / 1e6, "says": says}


def computing() -> float:
    """Seconds of computing so far, of this process and of the helpers that ended."""
    used = os.times()
    return used.user + used.system + used.children_user + used.children_system


def on_disk(folder: Path) -> int:
    """Bytes of every file below a folder."""
    return sum(p.stat().st_size for p in folder.rglob("*") if p.is_file())


if __name__ == "__main__":
    main()
