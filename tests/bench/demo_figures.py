"""Times all figures of a played demo with nothing remembered: python tests/bench/demo_figures.py FOLDER. Never part of the tests.

FOLDER: as `wrackline demo FOLDER` leaves it.
"""

import sys
import time
from pathlib import Path

from pipeline.indicators.remember import Memory
from pipeline.measure import measure
from pipeline.session import session


def main(root: Path) -> None:
    """Print wall and computing of making all figures, of three times the quickest."""
    best = (float("inf"), float("inf"), 0)
    for _ in range(3):
        wall, cpu = time.perf_counter(), time.process_time()
        with session(root) as (con, rules):
            made = len(measure(con, rules, Memory()))
        best = min(best, (time.perf_counter() - wall, time.process_time() - cpu, made))
    print(f"{best[2]:,} figures: {best[0]:.1f} s, {best[1]:.1f} s computing")


if __name__ == "__main__":
    main(Path(sys.argv[1]))
