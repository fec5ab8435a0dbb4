"""Intervals hold the truth as often as they say: a short version of `make coverage-check`."""

import json
import subprocess
import sys
from pathlib import Path

WORLDS = 20


def test_intervals_hold_the_truth():
    """Over 20 seeded worlds, each sort of interval holds its truth about 95 times in 100, within binomial bounds."""
    here = Path(__file__).parent
    # a process of its own: its workers must not inherit the threads that other tests have started
    done = subprocess.run(
        [sys.executable, str(here / "coverage_check.py"), "--seeds", str(WORLDS), "--json"],
        capture_output=True,
        text=True,
        check=True,
    )
    told = json.loads(done.stdout)
    assert set(told["found"]) == {"density", "unit retention", "unit retention over sites"}
    for name, (given, held) in told["found"].items():
        assert given >= WORLDS, name
        assert held / given >= told["bounds"][0], f"{name}: {held} of {given}"
