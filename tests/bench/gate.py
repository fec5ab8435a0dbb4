"""The gate on a big archive: how long it takes, and how much memory.

    python tests/bench/gate.py [--occurrences 1000000] [--folder build/bench]

The archive is that of the gate's tests with its quadrats multiplied: 20 occurrences and 20 measurements an event.
"""

import argparse
import datetime as dt
import resource
import sys
import time
import zipfile
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "stages"))

from drafts import draft, written

from pipeline.gate.check import check

EACH = 20  # occurrences and measurements of an event


def write_archive(path: Path, occurrences: int) -> Path:
    """A zip of so many occurrences, each with a measurement; every event holds EACH of them."""
    d = draft()
    quadrat, seen, measured = d.event[3], d.occurrence[0], d.emof[0]
    files = d.files()

    def more(name: str, rows: int, row: dict[str, str]) -> bytes:
        """The file with so many rows like this one: #E stands for the event's number, #N for the row's."""
        line = written([row]).decode().splitlines()[1]
        told = (line.replace("#E", str(n // EACH)).replace("#N", str(n)) for n in range(rows))
        return files[name] + ("\n".join(told) + "\n").encode()

    of = {"id": "kelp:reef:v1:b#E", "eventID": "kelp:reef:v1:b#E"}
    big = {
        "event.txt": more("event.txt", -(-occurrences // EACH), quadrat | dict.fromkeys(of, "kelp:reef:v1:b#N")),
        "occurrence.txt": more("occurrence.txt", occurrences, seen | of | {"occurrenceID": "big-#N"}),
        "emof.txt": more(
            "emof.txt", occurrences, measured | {"id": of["id"], "measurementID": "m-#N", "occurrenceID": "big-#N"}
        ),
    }
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as z:
        for name, data in (files | big).items():
            z.writestr(name, data)
    return path


def main() -> None:
    """Write the archive where it is not there yet, ask the gate, print time and memory."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--occurrences", type=int, default=1_000_000)
    parser.add_argument("--folder", type=Path, default=Path("build/bench"))
    asked = parser.parse_args()
    path = asked.folder / f"gate-{asked.occurrences}.zip"
    if not path.is_file():
        path.parent.mkdir(parents=True, exist_ok=True)
        write_archive(path, asked.occurrences)
        print(f"wrote {path}; run again, so that its making counts in no figure")
        return
    wall, work = time.perf_counter(), time.process_time()
    verdict = check(path, dt.date(2026, 1, 1))
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1000
    print(f"{dict(verdict.rows)}: {len(verdict.findings)} rules hit, may leave: {verdict.may_leave}")
    print(
        f"{time.perf_counter() - wall:.0f} s by the clock, {time.process_time() - work:.0f} s of computing, {peak:.0f} MB at most"
    )


if __name__ == "__main__":
    main()
