"""Every way to damage a copy of a ledger is found by verify, and what is damaged is named."""

import hashlib
import json
import os
import re
import shutil
from dataclasses import dataclass, replace
from pathlib import Path

import pytest

from pipeline import disk, look, run
from pipeline.ledger.entry import NEWEST_FORMAT, Entry, Receipt, read_entry
from pipeline.ledger.store import Head, Ledger
from pipeline.ledger.verify import Witness, verify

HEAD = "visit_key   site_key   happened   outcome"


@dataclass(frozen=True)
class Told:
    """A ledger to be copied and damaged, and who saw it when."""

    ledger: Ledger
    heads: tuple[Head, ...]  # by number


@pytest.fixture(scope="module")
def told(new_programme):
    """A ledger with registers, good and held rows, an amendment, a mapping and a change of rules: nine entries."""
    made = new_programme()
    made.partner("club", 'language = "pt"\n')
    for last in ("D2   CB   2025-03-02   lost", "D2   CB   2025-03-02   found", "D3   NP   2025-03-03   found"):
        made.take({"club/visit.csv": f"{HEAD}\nD1   CB   2025-03-01   found\n{last}"})
    made.take({"club/more.csv": f"{HEAD}\nD4   NP   2025-03-04   found"})
    made.rules((made.root / "programme.toml").read_text() + "# mended\n")
    run.refresh(made.root)
    ledger = made.ledger
    heads = tuple(Head(n, ledger.hash_of(n)) for n in range(ledger.last_number() + 1))
    return Told(ledger, heads)


@pytest.fixture
def copy(told, tmp_path):
    """A copy of it."""
    shutil.copytree(told.ledger.root, tmp_path / "copy")
    return Ledger(tmp_path / "copy")


def visit(ledger: Ledger, which: int = 0) -> Entry:
    """An entry of the club."""
    return [e for e in ledger.entries() if e.partner == "club"][which]


def segment(ledger: Ledger, kind: str) -> Path:
    """The first segment of that kind that the club's entries name."""
    return next(ledger.segment_path(s) for e in ledger.entries() if e.partner == "club" and (s := e.segment(kind)))


def flip(path: Path, at: int = -1) -> None:
    """Change one byte in the middle, or there."""
    data = bytearray(path.read_bytes())
    data[at if at >= 0 else len(data) // 2] ^= 1
    path.write_bytes(data)


def longer(path: Path) -> None:
    """Add a line end."""
    path.write_bytes(path.read_bytes() + b"\n")


def reseal(ledger: Ledger, number: int, **change) -> None:
    """Write an entry anew, changed, with a good seal of its own."""
    path = ledger.entry_path(number)
    path.write_bytes(replace(read_entry(path.read_bytes(), number), **change).to_bytes())


def forge(ledger: Ledger, first: int, **change) -> None:
    """Change an entry, and link and seal every later one anew."""
    reseal(ledger, first, **change)
    for number in range(first + 1, ledger.last_number() + 1):
        reseal(ledger, number, previous=ledger.hash_of(number - 1))


def respell(ledger: Ledger, number: int, **how) -> None:
    """Write the same JSON otherwise."""
    path = ledger.entry_path(number)
    path.write_text(json.dumps(json.loads(path.read_bytes()), **how) + "\n", encoding="utf-8")


def in_place_of(path: Path, what: str) -> None:
    """Put something that is no plain file in a file's place; a link leads to the very same bytes."""
    aside = path.with_name("aside")
    path.rename(aside)
    if what == "link":
        path.symlink_to(aside.rename(path.parents[2] / "aside"))
    else:
        aside.unlink()
        os.mkfifo(path) if what == "pipe" else path.mkdir()


def cut_end(ledger: Ledger, count: int) -> None:
    """Take the last entries away."""
    for number in range(ledger.last_number() - count + 1, ledger.last_number() + 1):
        ledger.entry_path(number).unlink()


def swap(one: Path, other: Path) -> None:
    """Let two files change their bytes."""
    a, b = one.read_bytes(), other.read_bytes()
    one.write_bytes(b)
    other.write_bytes(a)


def unlike(path: Path) -> bytes:
    """Other bytes of the very same size, good Parquet in form: a column's value is spelled otherwise."""
    data = path.read_bytes()
    return data.replace(b"D1", b"D9", 1) if b"D1" in data else data[:-9] + b"x" + data[-8:]


def earlier_in_place_of_later(ledger: Ledger) -> None:
    """Put an entry back that stood before it, in place of its successor, linked and sealed to fit."""
    old = read_entry(ledger.entry_path(5).read_bytes(), 5)
    newer = read_entry(ledger.entry_path(6).read_bytes(), 6)
    ledger.entry_path(6).write_bytes(replace(old, previous=newer.previous).to_bytes())


# Each: its name, what is done, what verify must name (a pattern), and whether the light look finds it too.
DAMAGES = [
    ("a byte in a drop", lambda c: flip(c.drop_path(visit(c).drop)), r"The drop “visit\.csv” of club \(entry 4\)", False),
    ("a byte in the rules", lambda c: flip(c.drop_path(visit(c).rules)), "The rules kept with entry 1 was changed", False),
    ("a byte in a mapping", lambda c: flip(c.drop_path(visit(c).mapping)), "The mapping of club kept with entry 4", False),
    *((f"a byte in a {kind} segment", lambda c, k=kind: flip(segment(c, k)), rf"The {kind} segment of entry \d was changed", False)
      for kind in ("visit", "part", "record", "fault", "asked")),
    ("a drop cut short", lambda c: os.truncate(c.drop_path(visit(c).drop), 9), r"The drop “visit\.csv” .* has 9 bytes", True),
    ("a drop with more bytes", lambda c: longer(c.drop_path(visit(c).drop)), "The drop .* bytes, not", True),
    ("a segment cut short", lambda c: os.truncate(segment(c, "visit"), 100), "The visit segment of entry 4 has 100 bytes", True),
    ("a segment emptied", lambda c: os.truncate(segment(c, "part"), 0), "The part segment of entry 4 has 0 bytes", True),
    ("the rules emptied", lambda c: os.truncate(c.drop_path(visit(c).rules), 0), "The rules kept with entry 1 was changed", False),
    ("a segment gone", lambda c: segment(c, "visit").unlink(), "The visit segment of entry 4 is gone", True),
    ("a drop gone", lambda c: c.drop_path(visit(c).drop).unlink(), r"The drop “visit\.csv” .* is gone", True),
    ("the rules gone", lambda c: c.drop_path(visit(c).rules).unlink(), "The rules kept with entry 1 is gone", True),
    ("a mapping gone", lambda c: c.drop_path(visit(c).mapping).unlink(), "The mapping of club .* is gone", True),
    ("every segment of a kind gone", lambda c: shutil.rmtree(c.segments / "record"), "The record segment of entry 1 is gone", True),
    ("all drops gone", lambda c: shutil.rmtree(c.drops), "The rules kept with entry 1 is gone", True),
    ("a segment renamed", lambda c: segment(c, "visit").rename(c.segments / "visit" / f"{'0' * 64}.parquet"),
     "The visit segment of entry 4 is gone", True),
    ("a segment moved to another kind", lambda c: segment(c, "visit").rename(c.segments / "site" / segment(c, "visit").name),
     "The visit segment of entry 4 is gone", True),
    ("two segments exchanged", lambda c: swap(c.segment_path(visit(c).segment("visit")), c.segment_path(visit(c, -1).segment("visit"))),
     "The visit segment of entry 4 was changed", False),
    ("a segment exchanged for one of the same size", lambda c: segment(c, "part").write_bytes(unlike(segment(c, "part"))),
     "The part segment of entry 4 was changed", False),
    ("a drop exchanged, its name kept", lambda c: swap(c.drop_path(visit(c).drop), c.drop_path(visit(c, 1).drop)),
     r"The drop “visit\.csv” of club \(entry 4\) has", True),
    ("a link in place of a drop", lambda c: in_place_of(c.drop_path(visit(c).drop), "link"), r"The drop “visit\.csv” .* no plain file", True),
    ("a dead link in place of a drop", lambda c: (p := c.drop_path(visit(c).drop)).unlink() or p.symlink_to("nowhere"), "The drop .* no plain file", True),
    ("a folder in place of a segment", lambda c: in_place_of(segment(c, "visit"), "folder"), "The visit segment of entry 4 is no plain file", True),
    ("a pipe in place of a segment", lambda c: in_place_of(segment(c, "visit"), "pipe"), "The visit segment of entry 4 is no plain file", True),
    ("a file of another sort among the drops", lambda c: (c.drops / "notes.txt").write_text("x"), "of no ledger stands in it: drops/notes.txt", True),
    ("a file of another sort among the segments", lambda c: (c.segments / "visit/x.parquet").write_text("x"),
     "of no ledger stands in it: segments/visit/x.parquet", True),
    ("a byte in an entry's body", lambda c: flip(c.entry_path(4), 60), "Entry 4 ", True),
    ("a byte in an entry's seal", lambda c: flip(c.entry_path(4), len(c.entry_path(4).read_bytes()) - 20), "Entry 4 ", True),
    ("the last byte of the last entry", lambda c: flip(c.entry_path(8), len(c.entry_path(8).read_bytes()) - 1), "Entry 8 ", True),
    ("an entry emptied", lambda c: os.truncate(c.entry_path(4), 0), "Entry 4 cannot be read", True),
    ("an entry full of brackets", lambda c: c.entry_path(4).write_text("[" * 100_000), "Entry 4 cannot be read", True),
    ("an entry with its keys in another order", lambda c: respell(c, 4), "Entry 4 is not as it was written", True),
    ("an entry with other blanks", lambda c: respell(c, 4, sort_keys=True, indent=1), "Entry 4 is not as it was written", True),
    ("an entry with letters spelled otherwise", lambda c: c.entry_path(4).write_bytes(c.entry_path(4).read_bytes().replace(b"club", b"clu\\u0062")),
     "Entry 4 is not as it was written", True),
    ("an entry with a line more", lambda c: longer(c.entry_path(4)), "Entry 4 is not as it was written", True),
    ("an entry with a mark before it", lambda c: c.entry_path(4).write_bytes(b"\xef\xbb\xbf" + c.entry_path(4).read_bytes()), "Entry 4 ", True),
    ("the last entry gone", lambda c: cut_end(c, 1), "ends at entry 7, but the letters saw entry 8", True),
    ("the last three entries gone", lambda c: cut_end(c, 3), "ends at entry 5, but the letters saw entry 8", True),
    ("all entries gone", lambda c: shutil.rmtree(c.entries_folder), "ends at entry 0, but the letters saw entry 8", True),
    ("the first entry gone", lambda c: c.entry_path(1).unlink(), "Entry 1 is gone", True),
    ("an entry gone from the middle", lambda c: c.entry_path(4).unlink(), "Entry 4 is gone", True),
    ("two entries gone from the middle", lambda c: (c.entry_path(4).unlink(), c.entry_path(5).unlink()), "Entries 4 to 5 are gone", True),
    ("two entries exchanged", lambda c: swap(c.entry_path(4), c.entry_path(5)), "Entry 4 does not follow", True),
    ("the last two entries exchanged", lambda c: swap(c.entry_path(7), c.entry_path(8)), "Entry 7 does not follow", True),
    ("an entry renumbered", lambda c: c.entry_path(8).rename(c.entry_path(9)), "Entry 8 is gone", True),
    ("an entry with a number far away", lambda c: shutil.copy(c.entry_path(8), c.entry_path(999_999_999)), "Entries 9 to 999999998 are gone", True),
    ("an entry copied after the last", lambda c: shutil.copy(c.entry_path(4), c.entry_path(9)), "Entry 9 does not follow from entry 8", True),
    ("an older entry in place of a newer", lambda c: shutil.copy(c.entry_path(5), c.entry_path(6)), "Entry 6 does not follow from entry 5", True),
    ("an older entry linked in place of a newer", earlier_in_place_of_later, "Entry 7 does not follow from entry 6", True),
    ("an entry under a second name", lambda c: shutil.copy(c.entry_path(4), c.entries_folder / "4.json"), "entries/4.json", True),
    ("an entry under other digits", lambda c: shutil.copy(c.entry_path(4), c.entries_folder / "٠٠٠٠٠٠٠٠٤.json"), "entries/٠٠٠٠٠٠٠٠٤.json", True),
    ("a file among the entries", lambda c: (c.entries_folder / "notes.txt").write_text("x"), "entries/notes.txt", True),
    ("a folder in place of an entry", lambda c: in_place_of(c.entry_path(4), "folder"), "Entry 4 is no plain file", True),
    ("a link in place of an entry", lambda c: in_place_of(c.entry_path(4), "link"), "Entry 4 is no plain file", True),
    ("a pipe in place of an entry", lambda c: in_place_of(c.entry_path(4), "pipe"), "Entry 4 is no plain file", True),
    ("an entry sealed anew", lambda c: reseal(c, 4, name="other.csv"), "Entry 5 does not follow from entry 4", True),
    ("the last entry sealed anew", lambda c: reseal(c, 8, partner="other"), "Entry 8 is not the one that the warehouse saw", True),
    ("sums that do not hold, chain forged", lambda c: forge(c, 4, receipt=replace(visit(c).receipt, entered=9)), "The sums of entry 4 do not hold", True),
    ("parts that nobody read, chain forged", lambda c: forge(c, 4, receipt=Receipt(lines=9, records=9, parts=9, entered=9)), "Entry 4 tells of 9 parts", True),
    ("a day that goes back, chain forged", lambda c: forge(c, 4, recorded="2001-01-01T00:00:00.000000+00:00"), "Entry 4 was recorded at 2001", True),
    ("no day at all, chain forged", lambda c: forge(c, 4, recorded="soon"), "Entry 4 was recorded at soon", True),
    ("an entry that leads out of the ledger, chain forged", lambda c: forge(c, 4, drop="../../programme.toml"), "Entry 4: An entry names the file", True),
    ("a chain forged from an entry on", lambda c: forge(c, 4, partner="other"), "Entry 8 is not the one that the warehouse saw", True),
    ("a chain forged and cut to an old end", lambda c: (forge(c, 4, partner="other"), cut_end(c, 3)), "Entry 5 is not the one that an old back-up saw", True),
    ("an entry taken for erased", lambda c: (forge(c, 8, what="redaction", format=2, redacts=visit(c).drop, by="x", reason="y"),
                                             c.drop_path(visit(c).drop).unlink()), "Entry 8 is not the one", True),
]  # fmt: skip


@pytest.mark.parametrize(("harm", "named", "light"), [d[1:] for d in DAMAGES], ids=[d[0] for d in DAMAGES])
def test_every_damage_is_found_and_named(told, copy, harm, named, light):
    """Of each way to damage a ledger, the full look names what is damaged; the light look finds what it promises."""
    seen = [
        Witness("the warehouse", told.heads[-1]),
        Witness("the letters", Head(8, "")),
        Witness("an old back-up", told.heads[5]),
    ]
    assert verify(copy, seen).wrong == []
    harm(copy)
    wrong = verify(copy, seen).wrong
    assert any(re.search(named, w) for w in wrong), wrong
    assert any(re.search(named, w) for w in verify(copy, seen, light=True).wrong) == light


def test_there_are_many_damages_and_each_is_its_own():
    """The list holds at least 25 ways, each with a name of its own."""
    assert len({d[0] for d in DAMAGES}) == len(DAMAGES) >= 25


@pytest.mark.parametrize("what", ["drops", "entries"])
def test_a_file_that_cannot_be_read_is_named(told, copy, monkeypatch, what):
    """A file that the system does not let us read is named as such, and the look goes on."""
    entry = visit(copy)
    path = copy.entry_path(entry.number) if what == "entries" else copy.drop_path(entry.drop)

    def refuse(self, *args, **kwargs):
        if self == path:
            raise PermissionError(13, "Permission denied")
        return real(self, *args, **kwargs)

    real = Path.open
    monkeypatch.setattr(Path, "open", refuse)
    wrong = verify(copy, [Witness("the warehouse", told.heads[-1])]).wrong
    assert "Permission denied" in wrong[0] and f"ntry {entry.number}" in wrong[0] and len(wrong) == 1


def test_the_end_is_proved_as_far_as_someone_saw_it(told, copy):
    """Entries that nobody outside has seen yet are told of, and are not wrong."""
    assert verify(copy, [Witness("the warehouse", told.heads[-1])]).notes == []
    verdict = verify(copy, [Witness("the warehouse", told.heads[6])])
    assert verdict.wrong == [] and verdict.notes[0].startswith("Nobody outside has seen the entries after 6 yet")


def test_a_newer_format_is_told_apart_from_damage(told, copy):
    """An entry of a format that is not known yet says so, and that nothing is wrong with it."""
    data = copy.entry_path(8).read_bytes()
    body = data.removeprefix(b'{"entry":').rpartition(b',"seal":')[0].replace(b'"format":1', b'"format":9')
    seal = hashlib.sha256(body).hexdigest().encode()
    copy.entry_path(8).write_bytes(b'{"entry":' + body + b',"seal":"' + seal + b'"}\n')
    assert any(
        f"of format 9; this Wrackline reads up to {NEWEST_FORMAT}. Nothing is wrong" in w
        for w in verify(copy, []).wrong
    )
    copy.entry_path(8).write_bytes(data.replace(b'"format":1', b'"format":9'))
    assert any("Entry 8 cannot be read" in w or "not as it was written" in w for w in verify(copy, []).wrong)
