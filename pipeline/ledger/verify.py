"""Whether the ledger is whole: every byte of drops, segments and entries, and its end against every witness."""

import hashlib
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from pathlib import Path

from pipeline import disk
from pipeline.errors import LedgerDamaged
from pipeline.ledger.entry import BEFORE_FIRST, Entry, read_entry
from pipeline.ledger.store import Head, Ledger


@dataclass(frozen=True)
class Witness:
    """Someone outside the ledger who saw its head: where that stands, and what it saw."""

    where: str
    head: Head


@dataclass
class Verdict:
    """What was looked at, what is wrong (one sentence each), and what is worth saying without being wrong."""

    entries: int = 0
    drops: int = 0
    segments: int = 0
    wrong: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)


def verify(
    ledger: Ledger,
    witnesses: Iterable[Witness],
    light: bool = False,
    tick: Callable[[int, int], None] = lambda *_: None,
) -> Verdict:
    """Look at the whole ledger. light: names and sizes of drops and segments, not their bytes.

    tick(done, of) is called as the work goes on.
    """
    verdict = Verdict()
    entries, hashes = _walk_entries(ledger, verdict)
    wanted = _wanted_files(ledger, entries)
    for done, (path, (digest, size, what)) in enumerate(sorted(wanted.items()), 1):
        tick(done, len(wanted))
        verdict.drops += path.parent == ledger.drops
        verdict.segments += path.parent != ledger.drops
        if not path.is_file():
            verdict.wrong.append(f"{what} is gone: {path.relative_to(ledger.root)}")
        elif size is not None and path.stat().st_size != size:
            verdict.wrong.append(f"{what} has {path.stat().st_size} bytes, not {size}: {path.relative_to(ledger.root)}")
        elif not light and disk.sha256_of(path) != digest:
            verdict.wrong.append(f"{what} was changed: {path.relative_to(ledger.root)}")
    _note_strangers(ledger, set(wanted), verdict)
    _compare_witnesses(hashes, witnesses, verdict)
    return verdict


def _walk_entries(ledger: Ledger, verdict: Verdict) -> tuple[list[Entry], list[str]]:
    """Entries that can be read, and the hash of every entry by number (index 0: before the first)."""
    entries, hashes = [], [BEFORE_FIRST]
    strange = sorted(p.name for p in ledger.entries_folder.iterdir() if not _is_entry_name(p))
    verdict.wrong += [f"A file that is no entry stands among the entries: entries/{n}" for n in strange]
    for number in range(1, ledger.last_number() + 1):
        path = ledger.entry_path(number)
        verdict.entries += 1
        if not path.is_file():
            verdict.wrong.append(f"Entry {number} is gone, though later ones are there: entries/{path.name}")
            hashes.append("")
            continue
        data = path.read_bytes()
        try:
            entry = read_entry(data, number)
        except LedgerDamaged as e:
            verdict.wrong.append(f"{e} (entries/{path.name})")
        else:
            entries.append(entry)
            if hashes[-1] and entry.previous != hashes[-1]:
                verdict.wrong.append(
                    f"Entry {number} does not follow from entry {number - 1}: one of the two was exchanged"
                )
            if not entry.receipt.holds():
                verdict.wrong.append(f"The sums of entry {number} do not hold")
        hashes.append(hashlib.sha256(data).hexdigest())
    return entries, hashes


def _is_entry_name(path: Path) -> bool:
    return path.suffix == ".json" and path.stem.isdigit() and len(path.stem) == 9


def _wanted_files(ledger: Ledger, entries: list[Entry]) -> dict[Path, tuple[str, int | None, str]]:
    """Every file that entries name: its hash, its size where an entry tells it, and what to call it."""
    wanted: dict[Path, tuple[str, int | None, str]] = {}
    for e in entries:
        for digest, what in ((e.rules, "The rules"), (e.mapping, f"The mapping of {e.partner}")):
            if digest:
                wanted.setdefault(ledger.drop_path(digest), (digest, None, f"{what} kept with entry {e.number}"))
        if e.drop:
            wanted[ledger.drop_path(e.drop)] = (
                e.drop,
                e.size,
                f"The drop “{e.name}” of {e.partner} (entry {e.number})",
            )
        for s in e.segments:
            wanted[ledger.segment_path(s)] = (s.hash, s.size, f"The {s.kind} segment of entry {e.number}")
    return wanted


def _note_strangers(ledger: Ledger, wanted: set[Path], verdict: Verdict) -> None:
    """Files no entry names: left by a run that was stopped before its commit. Harmless, and swept later."""
    there = {p for folder in (ledger.drops, ledger.segments) for p in folder.rglob("*") if p.is_file()}
    orphans = there - wanted
    if orphans:
        verdict.notes.append(f"{len(orphans)} files belong to no entry; a run was stopped before it finished them")


def _compare_witnesses(hashes: list[str], witnesses: Iterable[Witness], verdict: Verdict) -> None:
    """A chain cannot see its own end cut off: whoever wrote the head down elsewhere can.

    A witness may have written only the beginning of a hash, or (older letters) no hash at all.
    """
    seen = list(witnesses)
    last, proved = len(hashes) - 1, 0
    for w in seen:
        if w.head.number > last:
            verdict.wrong.append(
                f"The ledger ends at entry {last}, but {w.where} saw entry {w.head.number}: the end was cut off"
            )
        elif w.head.hash and hashes[w.head.number] and not hashes[w.head.number].startswith(w.head.hash):
            verdict.wrong.append(f"Entry {w.head.number} is not the one that {w.where} saw: it was exchanged")
        elif w.head.hash and hashes[w.head.number]:
            proved = max(proved, w.head.number)
    if not seen and last:
        verdict.notes.append("End not provable: nothing outside the ledger wrote its head down")
    elif proved < last:
        verdict.notes.append(
            f"Nobody outside has seen the entries after {proved} yet: `wrackline measure` notes the head"
        )
