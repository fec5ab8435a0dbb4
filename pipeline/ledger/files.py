"""Which files the entries name, and which of those were erased: what verify, sweep, copies and readers go by.

A redaction erases the drop's bytes and the segments that hold its cells as they were written (`record`, and the texts
found at fault). Parts and typed events stay: figures do not change. What another drop says too stays with that drop.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from pipeline.ledger.entry import Entry, Segment
from pipeline.ledger.store import Ledger

ERASED_KINDS = ("record", "fault")


@dataclass(frozen=True)
class Named:
    """A file that an entry names: its hash, its size where the entry tells it, and what to call it."""

    hash: str
    size: int | None
    what: str


def names_in(ledger: Ledger, e: Entry) -> Iterator[tuple[Path, Named]]:
    """The files that one entry names. LedgerDamaged when a name cannot be one."""
    if e.drop:
        yield ledger.drop_path(e.drop), Named(e.drop, e.size, f"The drop “{e.name}” of {e.partner} (entry {e.number})")
    for s in e.segments:
        yield ledger.segment_path(s), Named(s.hash, s.size, f"The {s.kind} segment of entry {e.number}")
    for digest, what in ((e.rules, "The rules"), (e.mapping, f"The mapping of {e.partner}")):
        if digest:
            yield ledger.drop_path(digest), Named(digest, None, f"{what} kept with entry {e.number}")


def named_files(ledger: Ledger, entries: Iterable[Entry]) -> dict[Path, Named]:
    """Every file that entries name, erased or not, as the first of them calls it."""
    named: dict[Path, Named] = {}
    for e in entries:
        for path, file in names_in(ledger, e):
            named.setdefault(path, file)
    return named


def redactions(entries: Iterable[Entry]) -> dict[str, Entry]:
    """The entry that erased it, by the drop's hash."""
    return {e.redacts: e for e in entries if e.redacts}


def erased_files(ledger: Ledger, entries: Sequence[Entry]) -> dict[Path, Entry]:
    """Files that were erased, and the redaction that did it: they may be gone, and should be."""
    by_drop = redactions(entries)
    erased: dict[Path, Entry] = {}
    kept: set[Path] = set()
    for e in entries if by_drop else ():
        told = {ledger.segment_path(s) for s in e.segments if s.kind in ERASED_KINDS}
        told |= {ledger.drop_path(e.drop)} if e.drop else set()
        kept |= {ledger.drop_path(digest) for digest in (e.rules, e.mapping) if digest}
        if e.drop in by_drop:
            erased |= dict.fromkeys(told, by_drop[e.drop])
        else:
            kept |= told
    return {path: e for path, e in erased.items() if path not in kept}


def segments_left(ledger: Ledger, entry: Entry, erased: Mapping[Path, Entry]) -> dict[str, Segment]:
    """The entry's segments by kind, without those that were erased."""
    return {s.kind: s for s in entry.segments if ledger.segment_path(s) not in erased}
