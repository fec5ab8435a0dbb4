"""Erasing a person's original bytes: first an entry that says who decided it and why, then the removal.

A stop in between leaves files that an entry calls erased: verify notes them, and the next sweep takes them away.
"""

import datetime as dt
from collections.abc import Sequence
from pathlib import Path

from pipeline import disk
from pipeline.errors import BadUsage
from pipeline.ledger.entry import Entry
from pipeline.ledger.files import erased_files, redactions
from pipeline.ledger.store import Ledger


def find_drop(entries: Sequence[Entry], beginning: str) -> str:
    """The one drop whose hash begins so; BadUsage when there is none, several, or it was erased already."""
    found = {e.drop for e in entries if e.drop and beginning and e.drop.startswith(beginning)}
    if len(found) != 1:
        why = "no drop's hash begins so" if not found else f"the hashes of {len(found)} drops begin so"
        raise BadUsage(f"{beginning!r}: {why}. `wrackline home` and the letters show them.")
    drop = found.pop()
    if drop in redactions(entries):
        raise BadUsage(told(redactions(entries)[drop]))
    return drop


def told(redaction: Entry) -> str:
    """What to say of a drop that was erased."""
    e = redaction
    return f"Drop {e.redacts[:12]} was erased by {e.by} on {e.recorded[:10]} (entry {e.number}): {e.reason}"


def record_redaction(ledger: Ledger, drop: str, by: str, reason: str, now: dt.datetime) -> Entry:
    """Add the entry. Call only while `writing`. `drop` is a whole hash; `by` and `reason` stay for ever."""
    rules = ledger.entry(ledger.last_number()).rules
    entry = Entry("", "", "redaction", rules, redacts=drop, by=by, reason=reason, format=2)
    return ledger.append(entry, now)


def erase(ledger: Ledger, entries: Sequence[Entry]) -> list[Path]:
    """Take away every erased file that is still there; gives those. Call only while nobody else is at work."""
    there = [p for p in sorted(erased_files(ledger, entries)) if p.is_symlink() or p.exists()]
    for path in there:
        disk.remove(path)
    for folder in sorted({p.parent for p in there}):
        disk.sync_folder(folder)
    return there
