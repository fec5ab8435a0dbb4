"""All or nothing: a night stopped at any step leaves the ledger as before or as after (short version of `make stop-check`)."""

import subprocess
import sys
from pathlib import Path

EVERY = 48  # points left out between two that are tried here; the make target tries each


def test_stops_leave_nothing_half_done():
    """Stopped before or after a step, by a kill or a power cut, the next night gives the same bytes without repair."""
    here = Path(__file__).parent
    # a process of its own: a fork must not inherit the threads that other tests have started
    done = subprocess.run(
        [sys.executable, str(here / "stops.py"), "--every", str(EVERY)], capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stdout + done.stderr
    assert "0 wrong" in done.stdout


def test_stops_leave_care_half_done_but_never_the_ledger():
    """A back-up, restoration, sweep or redaction stopped at a step leaves whole ledgers, and is ended by doing it again."""
    command = [sys.executable, str(Path(__file__).parent / "care_stops.py"), "--few", "1"]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr
    assert done.stdout.count("2 stops, half of them with the power cut: 0 wrong") == 6
