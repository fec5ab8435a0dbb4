"""The operator's guide of the README: its commands typed in, one block after the other, do what it says."""

import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from stops import BAGS, CHECKS, PLOT, SITE

HERE = Path(__file__).parents[2]
GUIDE = re.search(r"## For the one who installs it\n(.*?)\n## ", (HERE / "README.md").read_text(), re.DOTALL).group(1)
BLOCKS = re.findall(r"```\n(.*?)```", GUIDE, re.DOTALL)


@pytest.fixture(scope="module")
def typed(tmp_path_factory):
    """A folder with `wrackline` on the path, and what types a block into a shell there; gives what it said."""
    folder = tmp_path_factory.mktemp("operator")
    (folder / "bin").mkdir()
    command = folder / "bin/wrackline"
    command.write_text(f'#!/bin/sh\nexec {sys.executable} -m pipeline "$@"\n')
    command.chmod(0o755)
    path = f"{command.parent}{os.pathsep}{os.environ['PATH']}"
    work = folder / "work"
    work.mkdir()

    def type_in(block: str) -> str:
        given = {**os.environ, "PATH": path, "PYTHONPATH": str(HERE)}
        done = subprocess.run(["sh", "-ec", block], cwd=work, env=given, capture_output=True, text=True, check=False)
        assert done.returncode == 0, done.stderr
        return done.stdout

    return work, type_in


def test_the_guide_works_from_installation_to_another_machine(typed):
    """Set up, recipes, back-up, loss, restoration and a move, as typed: nothing is lost, and the moved programme gives the same tables."""
    work, type_in = typed
    _, set_up, recipes, mend, move = BLOCKS
    files = {
        "programme/site.csv": SITE,
        "programme/plot.csv": PLOT,
        "club/deployment.csv": BAGS,
        "club/check.csv": CHECKS,
    }
    first, rest = set_up.split("\n", 1)
    type_in(first)
    for name, text in files.items():
        (work / "kelp/inbox" / name).parent.mkdir(exist_ok=True)
        (work / "kelp/inbox" / name).write_text(text)
    assert "4 drops came in." in type_in(rest)
    assert "OnCalendar=" in type_in(recipes) and (work / "kelp/warehouse/dagster/dagster.yaml").is_file()
    tables = [(work / "kelp/out" / name).read_bytes() for name in ("figures.parquet", "indicators.csv")]
    told = type_in(mend)
    assert "The ledger is whole." in told and "Put back 0 entries" in told
    shutil.move(work / "kelp", work / "old machine")
    assert "Looked at 4 entries" in type_in(move)
    assert tables == [(work / "moved/out" / name).read_bytes() for name in ("figures.parquet", "indicators.csv")]
