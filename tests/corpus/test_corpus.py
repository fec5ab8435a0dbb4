"""The corpus of nasty files: each case's own sentence says what must come out, and it does."""

import pytest
from corpus import all_cases, examined, outcome, table

from pipeline.ledger.fates import parts_in
from pipeline.outputs.words import words

CASES = all_cases()


@pytest.mark.parametrize("case", CASES, ids=lambda c: c.name)
def test_case(case, kinds, tmp_path):
    """What the case says."""
    told = case.told
    staged = examined(case.content(), case.file, case.mapping, kinds, tmp_path, told.get("zone", "Europe/Lisbon"))
    expected = {k: told[k] for k in ("lines", "entered", "faults") if k in told}
    assert told.get("unreadable", "") in staged.unreadable and bool(staged.unreadable) == ("unreadable" in told), (
        staged.unreadable
    )
    assert outcome(staged, expected) == expected, told["says"]
    for part in told.get("notes", []):
        assert any(part in note for note in staged.notes), staged.notes
    if "notes" not in told:
        assert staged.notes == []
    balances(staged)
    said = [t for f in table(staged, "faults") for t in (f["code"], f["wanted"], f["advice"]) if t]
    said += [*staged.notes, *([staged.unreadable] if staged.unreadable else [])]
    assert [t for t in said if not words("nb").knows(t)] == []  # every letter can be written in every language


def balances(staged):
    """Every line is counted once, every record is kept once, and every record makes a part."""
    assert staged.lines == staged.furniture + staged.blank + staged.records
    kept = [(r["sheet"], r["row"]) for r in table(staged, "records")]
    assert len(kept) == len(set(kept)) == staged.records
    assert {(p["sheet"], p["row"]) for p in parts_in(staged.parts_files(), ["sheet", "row"])} == set(kept)


def test_every_case_is_told():
    """Cases have a sentence and a name of their own."""
    assert len({c.name for c in CASES}) == len(CASES)
    assert all(c.told["says"].endswith(".") and len(c.told["says"]) > 20 for c in CASES)


def test_all_of_them_in_one_night(new_programme):
    """Handed in together by one partner each, all are recorded, one entry each, and every receipt holds."""
    programme = new_programme(sea=False)
    for n, case in enumerate(CASES):
        programme.partner(f"p{n}", case.mapping)
        programme.put(f"p{n}", case.file, case.content())
    entries = programme.take()
    assert len(entries) == len(CASES)
    assert all(e.receipt.holds() for e in entries)
    for entry in entries:
        assert bool(entry.unreadable) == ("unreadable" in CASES[int(entry.partner[1:])].told)
