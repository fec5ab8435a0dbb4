"""A ledger that an older version began goes on in today's form: both forms are read side by side."""

import shutil

import pytest
from test_upcasts import LEDGERS, make

from pipeline import look, run
from pipeline.errors import BadUsage
from pipeline.ledger.store import Ledger
from schemas.upcasts import OTHER_SEGMENTS


@pytest.mark.parametrize("told", LEDGERS, ids=lambda p: p.name)
@pytest.mark.parametrize("projected", [True, False])
def test_entries_of_both_forms_are_judged_alike(told, projected, tmp_path):
    """What entries of either form said is known, with a projection and without one; grown and made anew the projection says the same."""
    root = tmp_path / "p"
    make.unpack(told, root)
    (root / "inbox/club").mkdir(parents=True)
    sheets = {"survey.csv": make.FRAMES.replace("T1,0", "T1,9"), "survey 2.csv": make.FRAMES.replace("T1,0", "T1,9") + "\n",
              "survey 3.csv": make.FRAMES.replace("T1,0", "T1,8").replace("recruit,3,", "recruit,many,")}  # fmt: skip
    receipts = []
    for name, text in sheets.items():
        if not projected:
            shutil.rmtree(root / "warehouse", ignore_errors=True)
        (root / "inbox/club" / name).write_text(text, encoding="utf-8")
        [entry] = run.take(root).entries
        receipts.append((entry.receipt.entered, entry.receipt.repeated, entry.receipt.held))
        if projected:
            run.project(root)
    assert receipts == [(1, 7, 0), (0, 8, 0), (0, 7, 1)]
    assert {s.version for e in Ledger(root / "ledger").entries() for s in e.segments if s.kind == "part"} == (
        {2} if told.name == "v5" else {1, 2}
    )
    run.project(root)
    grown = make.tables_of(root, {})
    shutil.rmtree(root / "warehouse")
    run.project(root)
    assert make.tables_of(root, {}) == grown
    assert look.verify(root).wrong == []


def test_a_newer_ledger_is_not_judged_by(programme, monkeypatch):
    """A version of a segment that this Wrackline does not know stops a take-in before anything is judged: what it holds would be overlooked."""
    visit = "visit_key,site_key,happened,outcome\nD1,CB,2025-03-01,found\n"
    programme.take({"club/visit.csv": visit.encode()})
    monkeypatch.setitem(OTHER_SEGMENTS, "record", 1)
    with pytest.raises(BadUsage, match=r"Entry \d+ holds `record` of version 2, which this Wrackline does not know"):
        programme.take({"club/visit 2.csv": (visit + "D2,CB,2025-03-02,found\n").encode()})
    assert "visit 2.csv" not in {e.name for e in programme.ledger.entries()}
