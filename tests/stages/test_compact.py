"""The cache of entries saves reading and changes nothing: not there, damaged or of another ledger, answers are the same."""

from dataclasses import replace

import pytest

from pipeline import care, look, run
from pipeline.errors import LedgerDamaged
from pipeline.ledger import store
from pipeline.ledger.compact import read_compact
from pipeline.ledger.store import Ledger

VISIT = "visit_key   site_key   happened   outcome\nD1   CB   2025-03-01   found"


@pytest.fixture(scope="module")
def first(new_programme):
    """A measured programme with a cache of entries: to be copied, never changed."""
    programme = new_programme()
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(store, "WORTH_IT", 2)
        programme.take({"club/visit.csv": VISIT})
        run.refresh(programme.root)
    return programme


@pytest.fixture
def cached(first, copy_of, monkeypatch):
    """A programme whose cache of entries was written when it had four of its five entries; gives (it, its ledger)."""
    monkeypatch.setattr(store, "WORTH_IT", 2)
    programme = copy_of(first)
    programme.take({"club/more.csv": VISIT.replace("D1", "D2")})
    run.project(programme.root)
    return programme, Ledger(programme.ledger.root, compact=programme.root / "warehouse/entries")


def used(ledger):
    """How many entries the cache would give."""
    return len(read_compact(ledger.compact, ledger.last_number(), ledger.hash_of))


def test_entries_are_the_same_with_it(cached):
    """Entries read through the cache are those read from their own files, numbers and all; later ones are added."""
    programme, ledger = cached
    assert (used(ledger), ledger.last_number()) == (4, 5)
    plain = programme.ledger.entries()
    assert ledger.entries() == plain and [e.number for e in ledger.entries()] == [1, 2, 3, 4, 5]
    assert ledger.entries(after=2) == plain[2:]
    assert b"".join(e.to_bytes() for e in plain[:4]) == ledger.compact.read_bytes()


def test_it_is_read_instead_of_the_files(cached, monkeypatch):
    """With the cache, only its last entry's file and those after it are read."""
    _, ledger = cached
    read = []
    real = Ledger.entry_path
    monkeypatch.setattr(Ledger, "entry_path", lambda self, n: read.append(n) or real(self, n))
    assert len(ledger.entries()) == 5 and set(read) == {4, 5}


HARMS = {
    "gone": lambda p: p.unlink(),
    "empty": lambda p: p.write_bytes(b""),
    "a line gone": lambda p: p.write_bytes(b"".join(p.read_bytes().splitlines(keepends=True)[1:])),
    "the last line gone": lambda p: p.write_bytes(b"".join(p.read_bytes().splitlines(keepends=True)[:-1])),
    "half a line more": lambda p: p.write_bytes(p.read_bytes() + b'{"entry":'),
    "two lines exchanged": lambda p: p.write_bytes(b"".join(p.read_bytes().splitlines(keepends=True)[i] for i in (1, 0, 2, 3))),
    "a name changed": lambda p: p.write_bytes(p.read_bytes().replace(b"site.csv", b"sitf.csv")),
    "a drop taken for known": lambda p: p.write_bytes(p.read_bytes().replace(b'"partner":"programme"', b'"partner":"club"', 1)),
    "no text": lambda p: p.write_bytes(bytes(5000)),
    "a folder": lambda p: (p.unlink(), p.mkdir()),
}  # fmt: skip


@pytest.mark.parametrize("harm", HARMS)
def test_a_damaged_cache_is_not_used(cached, harm):
    """Whatever happened to the cache, entries are those of the ledger, and the next take-in finds nothing new."""
    programme, ledger = cached
    HARMS[harm](ledger.compact)
    assert ledger.entries() == programme.ledger.entries()
    assert run.take(programme.root).entries == []


def test_every_changed_byte_is_noticed(cached):
    """No byte of the cache can be changed so that it gives other entries."""
    _, ledger = cached
    data, plain = ledger.compact.read_bytes(), ledger.entries()
    for at in range(0, len(data), 7):
        ledger.compact.write_bytes(data[:at] + bytes([data[at] ^ 1]) + data[at + 1 :])
        assert read_compact(ledger.compact, 5, ledger.hash_of) in ([], plain[:4], plain[:3], plain[:2], plain[:1])
    ledger.compact.write_bytes(data)
    assert ledger.entries() == plain


def test_a_cache_of_a_longer_or_other_ledger_is_not_used(cached, new_programme):
    """After a roll-back, or beside another ledger, the cache proves nothing and is passed over."""
    _, ledger = cached
    for number in (5, 4):
        ledger.entry_path(number).unlink()
        assert used(ledger) == (4 if number == 5 else 0)
    assert [e.number for e in ledger.entries()] == [1, 2, 3]
    other = new_programme()
    other.take({"club/other.csv": VISIT, "club/another.csv": VISIT.replace("D1", "D3")})
    assert used(replace(other.ledger, compact=ledger.compact)) in (0, 3)  # both stand on the same three registers


def test_a_gap_is_refused_all_the_same(cached):
    """With an entry's file gone, the cache does not paper over it."""
    _, ledger = cached
    ledger.entry_path(2).unlink()
    with pytest.raises(LedgerDamaged, match="Entry 2 is gone"):
        ledger.entries()


@pytest.mark.parametrize("ask", ["sweep", "backup", "redact", "verify"])
def test_care_goes_by_the_truth_alone(cached, tmp_path, ask):
    """Sweep, back-up, redaction and verify notice a damaged entry that the cache still has whole."""
    programme, ledger = cached
    drop = programme.ledger.entries()[-1].drop
    ledger.entry_path(2).write_bytes(b"scribbled")
    assert len(ledger.entries()) == 5
    if ask == "verify":
        assert any("Entry 2 " in w for w in look.verify(programme.root).wrong)
        return
    with pytest.raises(LedgerDamaged):
        {
            "sweep": lambda: care.sweep(programme.root),
            "backup": lambda: care.backup(programme.root, tmp_path / "b"),
            "redact": lambda: care.redact(programme.root, drop, "lead", "why"),
        }[ask]()


def test_it_is_renewed_when_enough_is_new(cached):
    """A few new entries are read from their files; when there are many, the cache is written anew."""
    programme, ledger = cached
    programme.take({"club/last.csv": VISIT.replace("D1", "D4")})
    run.project(programme.root)
    assert used(ledger) == 6 == len(ledger.entries())
