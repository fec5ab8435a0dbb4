"""`make demo` from outside: what it prints, what it leaves behind, and that its figures lead home."""

import random

import pytest
from evidence_check import differing

from pipeline import look, run
from pipeline.cli import main


@pytest.fixture(scope="module")
def demo(tmp_path_factory, request):
    """The demo's folder and what `wrackline demo` printed."""
    capture = request.config.pluginmanager.getplugin("capturemanager")
    root = tmp_path_factory.mktemp("demo") / "d"
    capture.read_global_capture()
    assert main(["demo", str(root)]) == 0
    return root, capture.read_global_capture().out


def test_demo_answers_the_three_questions_for_every_site(demo):
    """The demo ends with the three indicators for every site, held parts by partner, and where a figure came from."""
    _, printed = demo
    for question in (
        "DID KELP COME?",
        "DID THE BAGS HOLD?",
        "WHAT DID A HECTARE COST?",
        "HELD BY PARTNER",
        "WHERE DOES A FIGURE COME FROM?",
    ):
        assert question in printed
    for block in ("DID KELP COME?", "DID THE BAGS HOLD?", "WHAT DID A HECTARE COST?"):
        rows = printed[printed.index(block) :].split("\n\n")[1].splitlines()
        assert {line.split()[0] for line in rows[2:]} >= {"BL", "CS", "HN", "LQ", "MS", "TH"}


def test_figures_of_the_demo_lead_home(demo, tmp_path):
    """Figures of every sort, made again from only the rows they rest on, are the same (100 in `make evidence-check`)."""
    wrong, tried = differing(demo[0], tmp_path, figures=5)
    assert (wrong, tried) == ([], 5)


def test_a_second_night_of_the_demo_is_quiet(demo):
    """Taking the demo in again finds nothing new and changes no output by a byte."""
    root, _ = demo
    before = {p.name: p.read_bytes() for p in (root / "out").iterdir() if p.is_file()}
    took, done = run.run_all(root)
    assert took.entries == [] and done.figures == 0
    assert {p.name: p.read_bytes() for p in (root / "out").iterdir() if p.is_file()} == before


def test_any_changed_byte_of_the_demos_ledger_is_found(demo):
    """One byte changed in a file of the ledger, wherever, is found and its file named (every tenth file, a byte by lot)."""
    root, _ = demo
    dice, files = random.Random(7), sorted(p for p in (root / "ledger").rglob("*") if p.is_file() and p.stat().st_size)
    assert look.verify(root).wrong == []
    for path in files[::10]:
        data, mode = path.read_bytes(), path.stat().st_mode
        at = dice.randrange(len(data))
        path.write_bytes(data[:at] + bytes([data[at] ^ 1]) + data[at + 1 :])
        assert any(path.name in wrong for wrong in look.verify(root).wrong), path
        path.write_bytes(data)
        path.chmod(mode)


def test_a_missing_end_or_segment_is_found(demo):
    """The last entry gone, or a segment gone, is found and named."""
    root, _ = demo
    last = max((root / "ledger/entries").iterdir())
    segment = min((root / "ledger/segments/survey").iterdir())
    for path, words in ((last, "the end was cut off"), (segment, "is gone")):
        data = path.read_bytes()
        path.unlink()
        assert any(words in wrong for wrong in look.verify(root).wrong)
        path.write_bytes(data)
