"""Hostile and huge files under a hard limit of memory: a fault of the file, never the end of the process."""

import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent.parent
LIMIT = 2 << 30  # of address space, of which libraries reserve most without using it

CODE = """
import resource, sys
from pathlib import Path
sys.path[:0] = [{root!r}, {corpus!r}]
from corpus import all_cases, examined
from schemas.kinds import all_kinds
import pipeline.examine
kinds = all_kinds()
resource.setrlimit(resource.RLIMIT_AS, ({limit}, {limit}))
here = Path({here!r})
{act}
own = Path("/proc/self/status").read_text()  # ru_maxrss would begin at the peak of whoever started this process
peak = int(own.split("VmHWM:")[1].split()[0]) / 1024
print(f"peak {{peak:.0f}} MB", said)
"""


def limited(act: str, here: Path) -> tuple[float, str]:
    """Run some lines under the limit; gives the peak in MB and what they said."""
    code = CODE.format(root=str(ROOT), corpus=str(ROOT / "tests/corpus"), limit=LIMIT, here=str(here), act=act)
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False, timeout=600)
    assert done.returncode == 0, done.stderr[-2000:]
    _, peak, _, said = done.stdout[done.stdout.rindex("peak ") :].split(maxsplit=3)  # after any bar of progress
    return float(peak), said


def test_the_hostile_corpus(tmp_path):
    """Every hostile file of the corpus, one after another in one process, is refused with its own sentence."""
    peak, said = limited(
        "said = 0\nfor case in all_cases():\n    if case.theme == 'hostile':\n"
        "        assert examined(case.content(), case.file, case.mapping, kinds, here).unreadable, case.name\n"
        "        said += 1",
        tmp_path,
    )
    assert int(said) >= 15 and peak < 700


BIG = {
    "blank lines": "b'Dive,Site\\nD1,CB\\n' + b'\\n' * 3_000_000",
    "wide rows": "b','.join(b'c%d' % n for n in range(5000)) + b'\\n' + (b'x,' * 4999 + b'x\\n') * 3000",
    "ragged rows": "b'Dive,Site\\n' + b'D1,CB,extra\\n' * 400_000",
    "an open quotation mark": "b'Dive,Site\\n' + b'D1,CB\\n' * 300_000 + b'D2,\\\"CB\\n' + b'D1,CB\\n' * 3_000_000",
    "errors in every cell": "b'Dive,Site\\n' + b'#N/A,#REF!\\n' * 400_000",
}


@pytest.mark.parametrize("what", BIG)
def test_big_and_odd(what, tmp_path):
    """Files of many megabytes whose shape is the trouble are read or refused within the limit."""
    peak, said = limited(
        f"data = {BIG[what]}\nstaged = examined(data, 'x.csv', '', kinds, here)\n"
        "assert staged.lines == staged.furniture + staged.blank + staged.records\nsaid = staged.lines or staged.unreadable",
        tmp_path,
    )
    assert said and peak < 750, (peak, said)
