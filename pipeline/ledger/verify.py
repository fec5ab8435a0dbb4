"""Whether the ledger is whole: every byte of drops, segments and entries, and its end against every witness.

Whatever is wrong is named by its entry and file. `light` finds all that can be told from entries, names, sorts and
sizes of files; a byte changed in place in a drop or segment only the full look finds.
"""

import datetime as dt
import hashlib
import stat
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from pathlib import Path

from pipeline import disk
from pipeline.errors import LedgerDamaged
from pipeline.ledger.entry import BEFORE_FIRST, Entry, read_entry
from pipeline.ledger.fates import with_parts
from pipeline.ledger.files import Named, erased_files, names_in
from pipeline.ledger.redact import told as redaction_told
from pipeline.ledger.store import ENTRY_NAME, Head, Ledger
from pipeline.plural import n_of


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
    named, erased = _files(ledger, entries, verdict)
    for done, (path, file) in enumerate(sorted(named.items(), key=lambda item: str(item[0])), 1):
        tick(done, len(named))
        verdict.drops += path.parent == ledger.drops
        verdict.segments += path.parent != ledger.drops
        wrong = "" if path in erased else _look_at(path, file, light)
        if wrong:
            verdict.wrong.append(f"{file.what} {wrong}: {path.relative_to(ledger.root)}")
    _note_redactions(erased, entries, verdict)
    _find_strangers(ledger, set(named), verdict)
    _compare_witnesses(ledger.last_number(), hashes, witnesses, verdict)
    return verdict


# --- entries ------------------------------------------------------------------------------------------------


def _walk_entries(ledger: Ledger, verdict: Verdict) -> tuple[list[Entry], dict[int, str]]:
    """Entries that can be read, and the hash of every entry by number (0: before the first)."""
    entries, hashes = [], {0: BEFORE_FIRST}
    folder = ledger.entries_folder
    strange = sorted(p.name for p in folder.iterdir() if not ENTRY_NAME.fullmatch(p.name)) if folder.is_dir() else []
    verdict.wrong += [f"A file that is no entry stands among the entries: entries/{n}" for n in strange]
    before: Entry | None = None
    last = 0
    for number in sorted(ledger.numbers()):
        if number != last + 1:
            verdict.wrong.append(_gone(last + 1, number - 1))
        path, last = ledger.entry_path(number), number
        verdict.entries += 1
        try:
            entry, hashes[number] = _read(path, number)
        except LedgerDamaged as e:
            verdict.wrong.append(f"{e} (entries/{path.name})")
            continue
        entries.append(entry)
        if number - 1 in hashes and entry.previous != hashes[number - 1]:
            verdict.wrong.append(
                f"Entry {number} does not follow from entry {number - 1}: one of the two was exchanged"
            )
        verdict.wrong += _told_wrongly(entry, before)
        before = entry
    return entries, hashes


def _gone(first: int, last: int) -> str:
    which = f"Entry {first} is" if first == last else f"Entries {first} to {last} are"
    return f"{which} gone, though later ones are there: entries/{first:09d}.json"


def _read(path: Path, number: int) -> tuple[Entry, str]:
    if path.is_symlink() or not path.is_file():
        raise LedgerDamaged(f"Entry {number} is no plain file any more.")
    try:
        data = path.read_bytes()
    except OSError as e:
        raise LedgerDamaged(f"Entry {number} cannot be read: {e.strerror}.") from e
    return read_entry(data, number), hashlib.sha256(data).hexdigest()


def _told_wrongly(entry: Entry, before: Entry | None) -> list[str]:
    """What a sound seal does not rule out: someone may have sealed anew what cannot be."""
    wrong = []
    if not entry.receipt.holds():
        wrong.append(f"The sums of entry {entry.number} do not hold")
    if sum(s.rows for s in with_parts(entry)) != entry.receipt.parts:
        wrong.append(
            f"Entry {entry.number} tells of {n_of(entry.receipt.parts, 'part')}, its segments of another number"
        )
    if before is not None and not _instant(before) < _instant(entry):
        wrong.append(f"Entry {entry.number} was recorded at {entry.recorded}, not after entry {before.number}")
    return wrong


def _instant(entry: Entry) -> dt.datetime:
    try:
        return dt.datetime.fromisoformat(entry.recorded).astimezone(dt.UTC)
    except ValueError:
        return dt.datetime.min.replace(tzinfo=dt.UTC)


# --- drops and segments -------------------------------------------------------------------------------------


def _files(ledger: Ledger, entries: list[Entry], verdict: Verdict) -> tuple[dict[Path, Named], dict[Path, Entry]]:
    """Every file that sound entries name, and those of them that were erased."""
    named: dict[Path, Named] = {}
    sound = []
    for e in entries:
        try:
            told = list(names_in(ledger, e))
        except LedgerDamaged as wrong:
            verdict.wrong.append(f"Entry {e.number}: {wrong}")
        else:
            sound.append(e)
            for path, file in told:
                named.setdefault(path, file)
    return named, erased_files(ledger, sound)


def _look_at(path: Path, file: Named, light: bool) -> str:
    """What is wrong with a file, "" when nothing is."""
    try:
        there = path.lstat()
        if not stat.S_ISREG(there.st_mode):
            return "is no plain file any more"
        if file.size is not None and there.st_size != file.size:
            return f"has {there.st_size} bytes, not {file.size}"
        return "was changed" if not light and disk.sha256_of(path) != file.hash else ""
    except (FileNotFoundError, NotADirectoryError):
        return "is gone"
    except OSError as e:
        return f"cannot be read ({e.strerror})"


def _note_redactions(erased: dict[Path, Entry], entries: list[Entry], verdict: Verdict) -> None:
    """What was erased on purpose is told, and is no damage."""
    for e in entries:
        if e.redacts:
            left = sum(p.exists() for p, by in erased.items() if by == e)
            verdict.notes.append(
                redaction_told(e)
                + (
                    f". {n_of(left, 'of its files is', 'of its files are')} still there; `wrackline sweep` takes them away"
                    if left
                    else ""
                )
            )


def _find_strangers(ledger: Ledger, named: set[Path], verdict: Verdict) -> None:
    """Orphans of a run that was stopped before its commit are harmless; what has no such name was laid there."""
    own, others = ledger.stored()
    orphans = sum(p not in named for p in own)
    if orphans:
        verdict.notes.append(
            f"{n_of(orphans, 'file belongs', 'files belong')} to no entry; a run was stopped before it was finished, or is at work. "
            "`wrackline sweep` takes them away"
        )
    verdict.wrong += [
        f"A file that is of no ledger stands in it: {p.relative_to(ledger.root)}" for p in others if p not in named
    ]


# --- the end ------------------------------------------------------------------------------------------------


def _compare_witnesses(last: int, hashes: dict[int, str], witnesses: Iterable[Witness], verdict: Verdict) -> None:
    """A chain cannot see its own end cut off: whoever wrote the head down elsewhere can.

    A witness may have written only the beginning of a hash, or (older letters) no hash at all.
    """
    seen = list(witnesses)
    proved = 0
    for w in seen:
        if w.head.number > last:
            verdict.wrong.append(
                f"The ledger ends at entry {last}, but {w.where} saw entry {w.head.number}: the end was cut off"
            )
        elif w.head.hash and not hashes.get(w.head.number, w.head.hash).startswith(w.head.hash):
            verdict.wrong.append(f"Entry {w.head.number} is not the one that {w.where} saw: it was exchanged")
        elif w.head.hash and w.head.number in hashes:
            proved = max(proved, w.head.number)
    if not seen and last:
        verdict.notes.append("End not provable: nothing outside the ledger wrote its head down")
    elif proved < last:
        verdict.notes.append(
            f"Nobody outside has seen the entries after {proved} yet: `wrackline measure` notes the head"
        )
