"""What taking in one big CSV of survey rows costs, against DuckDB's typed conversion of the same file to Parquet.

    python tests/bench/one_file.py [--rows 1000000 5000000] [--limit-mb 1024]

`start` is what is loaded before anything is read: a take-in does nearly the same twice, since a big file has a process of its
own, but beside other work: while the file's bytes are copied, and while that process reads.
Wall time tells on a quiet machine only; seconds of computing (CPU) tell under load too, if less sharply. Computing and
peak memory are those of a step and all its helpers together; memory is sampled from the system. limit-mb: a hard limit on the
memory of each process; beyond it the system refuses, and the take-in would say so.
"""

import argparse
import os
import platform
import resource
import shutil
import subprocess
import sys
import threading
import time
from pathlib import Path

import duckdb

from pipeline.starter import start

PAGE_MB = resource.getpagesize() / (1 << 20)
TYPES = {
    "visit_key": "VARCHAR", "happened": "DATE", "site_key": "VARCHAR", "plot_key": "VARCHAR", "frame_key": "VARCHAR",
    "frame_type": "VARCHAR", "placement": "VARCHAR", "area_m2": "DECIMAL(18,6)", "protocol": "VARCHAR", "species": "VARCHAR",
    "stage": "VARCHAR", "count": "BIGINT",
}  # fmt: skip
CONVERT = """
import sys, duckdb
path, made, types = sys.argv[1:]
duckdb.execute("set enable_progress_bar = false")
duckdb.sql(f"copy (from read_csv('{path}', auto_detect=false, header=true, columns={types})) to '{made}' (format parquet, compression zstd)")
"""
START = """
import pipeline.examine
from schemas.kinds import all_kinds
all_kinds()
"""
TAKE = """
import sys
from pathlib import Path
from pipeline import run
[entry] = run.take(Path(sys.argv[1])).entries
assert (entry.receipt.entered, entry.receipt.held) == (int(sys.argv[2]), 0), entry.unreadable or entry.receipt
"""


def main() -> None:
    """Lay down each file, convert it, take it in, and print a line a step."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--rows", type=int, nargs="+", default=[1_000_000, 5_000_000])
    parser.add_argument("--folder", type=Path, default=Path("build/bench"))
    parser.add_argument("--limit-mb", type=int, default=0)
    args = parser.parse_args()
    print(f"{platform.machine()}, {os.cpu_count()} cores, Python {platform.python_version()}")
    print(f"{'rows':>10}  {'step':<7}  {'wall s':>8}  {'CPU s':>8}  {'peak MB':>8}  times convert: wall, CPU")
    for rows in args.rows:
        root = args.folder / f"one-{rows}"
        shutil.rmtree(root, ignore_errors=True)
        path = lay_down(root, rows)
        bare, bare_cpu, peak = timed(
            [sys.executable, "-c", CONVERT, str(path), str(root / "bare.parquet"), str(TYPES)], 0
        )
        print(f"{rows:>10,}  {'convert':<7}  {bare:>8.2f}  {bare_cpu:>8.2f}  {peak:>8.0f}", flush=True)
        begun, begun_cpu, peak = timed([sys.executable, "-c", START], 0)
        print(f"{rows:>10,}  {'start':<7}  {begun:>8.2f}  {begun_cpu:>8.2f}  {peak:>8.0f}", flush=True)
        wall, cpu, peak = timed([sys.executable, "-c", TAKE, str(root / "p"), str(rows)], args.limit_mb)
        ratios = f"{wall / bare:.1f}, {cpu / bare_cpu:.1f}"
        print(f"{rows:>10,}  {'take':<7}  {wall:>8.2f}  {cpu:>8.2f}  {peak:>8.0f}  {ratios}", flush=True)
        shutil.rmtree(root)


def lay_down(root: Path, rows: int) -> Path:
    """A programme with one file of so many survey rows (a multiple of four)."""
    start(root / "p")
    path = root / "p/inbox/club/survey.csv"
    path.parent.mkdir()
    site = "'S' || lpad((1 + f % 200)::varchar, 3, '0')"
    duckdb.sql(
        f"copy (select {site} || '-' || (f // 200 % 25) as visit_key, date '2015-06-01' + (30 * (f // 200 % 25))::int as happened, "
        f"{site} as site_key, plot_key, f // 5000 as frame_key, 'quadrat' as frame_type, 'random' as placement, 0.25 as area_m2, "
        "'quadrats' as protocol, 'Saccharina latissima' as species, stage, hash(f, plot_key, stage) % 17 as count "
        f"from range({rows // 4}) t(f), (values ('T1'), ('C1')) p(plot_key), (values ('recruit'), ('juvenile')) g(stage)) "
        f"to '{path}' (header)"
    )
    return path


def timed(command: list[str], limit_mb: int) -> tuple[float, float, float]:
    """Run it; seconds from its start to its end, of computing, and the peak memory in MB, of it and its children together."""

    def limited() -> None:
        if limit_mb:
            resource.setrlimit(resource.RLIMIT_DATA, (limit_mb << 20, limit_mb << 20))

    os.sync()  # what was laid down before must not be written meanwhile
    begun = time.perf_counter()
    process = subprocess.Popen(command, preexec_fn=limited)  # noqa: PLW1509 - no thread runs yet
    peak, done = [0.0], threading.Event()

    def watch() -> None:
        while not done.wait(0.05):
            own, mapped = zip(*map(resident_mb, family(process.pid)), strict=True)
            peak[0] = max(peak[0], sum(own) + max(mapped))

    watcher = threading.Thread(target=watch)
    watcher.start()
    _, status, used = os.wait4(process.pid, 0)
    process.returncode = os.waitstatus_to_exitcode(status)
    wall = time.perf_counter() - begun
    done.set()
    watcher.join()
    if process.returncode:
        sys.exit(f"{command[2][:40]} ended with {process.returncode}")
    return wall, used.ru_utime + used.ru_stime, peak[0]


def family(pid: int) -> list[int]:
    """The process and all that descend from it."""
    found = [pid]
    for one in found:
        for children in Path("/proc").glob(f"{one}/task/*/children"):
            try:
                found += [int(p) for p in children.read_text().split()]
            except OSError:
                continue
    return found


def resident_mb(pid: int) -> tuple[float, float]:
    """Memory of a process alone, and what of files it has mapped, which others may share; nothing when it is gone.

    The system's own account of shares would take a tenth of the time of what is measured.
    """
    try:
        _, resident, shared, *_ = map(int, Path(f"/proc/{pid}/statm").read_text().split())
        return (resident - shared) * PAGE_MB, shared * PAGE_MB
    except (OSError, ValueError):
        return 0.0, 0.0


if __name__ == "__main__":
    main()
