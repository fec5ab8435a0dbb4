"""Intervals hold the truth as often as they say: a short version of `make coverage-check`."""

import json
import subprocess
import sys
from pathlib import Path

from scipy.stats import binom

WORLDS = 4


def test_intervals_hold_the_truth():
    """Over four seeded worlds each sort of interval is given, and holds its truth as often as chance allows of so few at the least."""
    here = Path(__file__).parent
    # a process of its own: its workers must not inherit the threads that other tests have started
    done = subprocess.run(
        [sys.executable, str(here / "coverage_check.py"), "--seeds", str(WORLDS), "--json"],
        capture_output=True,
        text=True,
        check=True,
    )
    told = json.loads(done.stdout)
    assert set(told["found"]) == {"density", "apparent survival", "unit retention", "unit retention over sites"}
    for name, (given, held) in told["found"].items():
        assert given >= WORLDS, name
        assert held / given >= told["bounds"][0], f"{name}: {held} of {given}"


def test_one_truth_of_the_study():
    """Of 60 sites with ten clumped frames each, intervals hold the truth as often as they say (the rest: `make coverage-study`)."""
    code = (
        "import json, coverage_study as c\n"
        "if __name__ == '__main__':\n"
        "    _, lines = c.studied(c.Cell('density', (2, 2, 10), 60, 1))\n"
        "    print(json.dumps({n: (t.figures, t.given, t.held) for n, t in lines.items()}))"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=Path(__file__).parent
    )
    told = json.loads(done.stdout)
    assert {n: t[0] for n, t in told.items()} == {
        "density": 120,
        "treated over control": 60,
        "treated minus control": 60,
    }
    for name, (_, given, held) in told.items():
        assert given > 0.9 * 60, name
        assert held / given >= binom.ppf(0.0005, 60, 0.92) / 60, f"{name}: {held} of {given}"
