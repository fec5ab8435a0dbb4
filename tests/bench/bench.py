"""`make bench`: take-in, projection and measuring, each as a ratio to DuckDB's bare work on the same data in the same run.

    python tests/bench/bench.py [--events 10000 1000000] [--folder build/bench]

Every step runs in a process of its own, so that its peak memory is its own. Baselines:
    take-in      DuckDB converts the same CSV files to typed Parquet (its own sniffing, no checks, no ledger)
    projection   DuckDB scans the ledger's Parquet segments once into an empty file
    measuring    DuckDB groups the same survey rows once by site, day, species and stage
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

STEPS = ("make", "convert", "take", "scan", "project", "group", "measure", "again")
BASELINE = {"take": "convert", "project": "scan", "measure": "group"}


def main() -> None:
    """Run every step for every size and print the table."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--events", type=int, nargs="+", default=[10_000, 1_000_000])
    parser.add_argument("--folder", type=Path, default=Path("build/bench"))
    parser.add_argument("--step", choices=STEPS, help=argparse.SUPPRESS)
    args = parser.parse_args()
    if args.step:
        print(json.dumps(one_step(args.step, args.folder, args.events[0])))
        return
    print(f"{platform.machine()}, {os.cpu_count()} cores, Python {platform.python_version()}")
    print(f"{'events':>10}  {'step':<8}  {'wall s':>8}  {'peak MB':>8}  {'times its baseline':>18}")
    for events in args.events:
        folder = args.folder / str(events)
        shutil.rmtree(folder, ignore_errors=True)
        folder.mkdir(parents=True)
        seen: dict[str, float] = {}
        for step in STEPS:
            told = in_process_of_its_own(step, folder, events)
            seen[step] = told["wall"]
            ratio = f"{told['wall'] / seen[BASELINE[step]]:.1f} x {BASELINE[step]}" if step in BASELINE else ""
            print(f"{events:>10,}  {step:<8}  {told['wall']:>8.2f}  {told['peak_mb']:>8.0f}  {ratio:>18}", flush=True)


def in_process_of_its_own(step: str, folder: Path, events: int) -> dict[str, float]:
    """Run one step in a fresh interpreter."""
    command = [sys.executable, __file__, "--step", step, "--events", str(events), "--folder", str(folder)]
    done = subprocess.run(command, check=True, stdout=subprocess.PIPE, text=True)
    return json.loads(done.stdout.splitlines()[-1])


def one_step(step: str, folder: Path, events: int) -> dict[str, float]:
    """Do one step; imports count neither for it nor for its baseline."""
    work = {"make": make, "convert": convert, "take": take, "scan": scan, "project": project, "group": group,
            "measure": measure, "again": again}[step](folder, events)  # fmt: skip
    begun = time.perf_counter()
    work()
    wall = time.perf_counter() - begun
    return {"wall": wall, "peak_mb": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024}


def make(folder: Path, events: int):
    """A world of about that many events, all its files in the inboxes at once."""
    from seeds_demo import world

    def work() -> None:
        world.make(folder / "world", events=events)
        for name in ("programme.toml", "people.toml", "partners"):
            (folder / "world" / name).rename(folder / name)
        for night in sorted((folder / "world").glob("night-*")):
            shutil.copytree(night, folder / "inbox", dirs_exist_ok=True)
        shutil.rmtree(folder / "world")

    return work


def convert(folder: Path, _: int):
    """The bare conversion of every CSV file."""
    import duckdb

    def work() -> None:
        out = folder / "converted"
        out.mkdir(exist_ok=True)
        for n, path in enumerate(sorted((folder / "inbox").rglob("*.csv"))):
            told = str(path).replace("'", "''")
            read = f"read_csv('{told}', ignore_errors=true, null_padding=true, strict_mode=false, encoding='latin-1')"
            duckdb.sql(f"copy (select * from {read}) to '{out}/{n}.parquet' (format parquet, compression zstd)")

    return work


def take(folder: Path, _: int):
    """The whole take-in: read, check, judge, record."""
    import pipeline.examine
    import pipeline.record
    from pipeline import run
    from schemas.kinds import all_kinds

    all_kinds()
    return lambda: run.take(folder)


def scan(folder: Path, _: int):
    """One read of every segment into an empty DuckDB file."""
    import duckdb

    def work() -> None:
        with duckdb.connect(str(folder / "scan.duckdb")) as con:
            for kind in sorted(p for p in (folder / "ledger/segments").iterdir() if p.name != "record"):
                files = str(kind / "*.parquet").replace("'", "''")
                con.execute(
                    f"create table \"{kind.name}\" as select * from read_parquet('{files}', union_by_name=true)"
                )

    return work


def project(folder: Path, _: int):
    """The projection from nothing."""
    from pipeline import run
    from schemas.kinds import all_kinds

    all_kinds()
    return lambda: run.project(folder, rebuild=True)


def group(folder: Path, _: int):
    """One scan and group of the survey rows."""
    import duckdb

    files = str(folder / "ledger/segments/survey/*.parquet").replace("'", "''")
    query = f"select site_key, happened, species, stage, count(*), sum(count) from read_parquet('{files}') group by all"
    return lambda: duckdb.sql(query).fetchall()


def measure(folder: Path, _: int):
    """Every figure, tables and letters."""
    import pipeline.measure
    from pipeline import run
    from schemas.kinds import all_kinds

    all_kinds()
    return lambda: run.publish(folder)


def again(folder: Path, _: int):
    """A night without news."""
    from pipeline import run

    return lambda: run.run_all(folder)


if __name__ == "__main__":
    main()
