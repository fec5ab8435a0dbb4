"""A while of `make fuzz-check`: the reader and bytes that nobody wrote on purpose."""

import subprocess
import sys
from pathlib import Path

FUZZ = Path(__file__).parent / "fuzz_reader.py"
ROOT = FUZZ.parent.parent.parent
SECONDS = 25


def test_a_while_of_fuzzing_finds_nothing():
    """Changed files of the corpus and tables written in any way: no crash, no hang, no lost record."""
    done = subprocess.run(
        [sys.executable, FUZZ, "--seconds", str(SECONDS), "--seed", "20251125"],
        capture_output=True, text=True, check=False, cwd=ROOT, timeout=600,
    )  # fmt: skip
    assert done.returncode == 0, done.stdout + done.stderr
    files, read = (int(done.stdout.split()[i]) for i in (0, 2))
    assert files > 20 and read > files / 3


def test_it_would_notice(tmp_path):
    """With a reader that loses a row of every batch, the same minute finds it at once."""
    broken = """
import sys; sys.path[:0] = [{here!r}, {root!r}]
from pipeline.intake import read
whole = read._without_blank
def lossy(tables, width, tally):
    for table in whole(tables, width, tally):
        tally.blank += table.num_rows > 1
        yield table.slice(0, table.num_rows - 1) if table.num_rows > 1 else table
read._without_blank = lossy
from fuzz_reader import fuzz
said = []
assert fuzz(8, 1, say=said.append).findings
assert all("Finding: " in s for s in said), said  # what it finds is the lost row, not a fault of its own
"""
    code = broken.format(here=str(FUZZ.parent), root=str(ROOT))
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False, cwd=tmp_path)
    assert done.returncode == 0, done.stderr
