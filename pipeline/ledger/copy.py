"""A ledger copied while it is written: files first, entries last, so that the copy is a whole ledger at every instant.

The same walk makes a back-up (nothing that is there is touched) and mends a ledger from one.
"""

import hashlib
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from pipeline import disk
from pipeline.errors import BadUsage, LedgerDamaged
from pipeline.ledger.entry import Entry, read_entry
from pipeline.ledger.files import Named, erased_files, named_files
from pipeline.ledger.redact import erase
from pipeline.ledger.store import Head, Ledger


@dataclass
class Copied:
    """What a copy did: the head it holds now, files and entries that were copied, their bytes, files erased in it."""

    head: Head
    files: int = 0
    entries: int = 0
    bytes: int = 0
    erased: int = 0
    notes: list[str] = field(default_factory=list)


def copy_ledger(
    source: Ledger, target: Ledger, mend: bool = False, tick: Callable[[int, int], None] = lambda *_: None
) -> Copied:
    """Bring `target` up to the head that `source` has now. Call while writing `target`.

    Every byte is hashed on its way. mend: what is in `target` and not as it was written is replaced; otherwise it is
    left alone, and later entries of `target` that go on from the source's end stay. LedgerDamaged when a file of
    `source` is not as it was written; BadUsage when `target` holds other entries: nothing was changed then.
    """
    entries = source.entries()
    written = [e.to_bytes() for e in entries]
    later = _later(target, written) if mend else []
    every = [*written, *(e.to_bytes() for e in later)]
    _refuse_others(target, every, mend)
    copied = Copied(Head(len(every), hashlib.sha256(every[-1]).hexdigest()) if every else Head())
    erased = erased_files(source, [*entries, *later])
    named = {p: n for p, n in named_files(source, entries).items() if p not in erased}
    touched: set[Path] = set()
    with target.workspace() as folder:
        for done, (path, file) in enumerate(sorted(named.items(), key=lambda item: str(item[0])), 1):
            tick(done, len(named))
            to = target.root / path.relative_to(source.root)
            if not (_is_whole(to, file) if mend else to.exists()):
                disk.make_folder(to.parent)
                copied.bytes += _copy(path, file, folder / "copy", to)
                copied.files += 1
                touched.add(to.parent)
        for place in sorted(touched):
            disk.sync_folder(place)
        for number, data in enumerate(written, 1):
            name = target.entry_path(number)
            if not (name.is_file() and not name.is_symlink() and name.read_bytes() == data):
                disk.write_durably(folder / "entry", data)
                _put(folder / "entry", name)
                copied.entries += 1
    copied.erased = len(erase(target, [*entries, *later]))
    return copied


def _later(target: Ledger, written: Sequence[bytes]) -> list[Entry]:
    """The entries that only `target` has, where each names the one before it, the first of them the source's last."""
    found: list[Entry] = []
    last = written[-1] if written else b""
    while last and (path := target.entry_path(len(written) + len(found) + 1)).is_file() and not path.is_symlink():
        data = path.read_bytes()
        try:
            entry = read_entry(data, len(written) + len(found) + 1)
        except LedgerDamaged:
            return []
        if entry.previous != hashlib.sha256(last).hexdigest():
            return []
        found.append(entry)
        last = data
    return found


def _copy(path: Path, file: Named, made: Path, to: Path) -> int:
    try:
        digest, size = disk.copy_hashed(path, made)
    except OSError as e:
        raise LedgerDamaged(f"{file.what} cannot be read ({e.strerror}): it was not copied.") from e
    if digest != file.hash:
        raise LedgerDamaged(f"{file.what} was changed: it was not copied. `wrackline verify` tells what else is wrong.")
    disk.sync_file(made)
    _put(made, to, durable=False)  # folders are flushed once, before any entry
    return size


def _put(made: Path, to: Path, durable: bool = True) -> None:
    """Give a finished file its name, in place of whatever stands there and is not what it should be."""
    if to.is_dir() and not to.is_symlink():
        disk.remove_folder(to)
    disk.rename(made, to, durable)


def _is_whole(path: Path, file: Named) -> bool:
    try:
        return path.is_file() and not path.is_symlink() and disk.sha256_of(path) == file.hash
    except OSError:
        return False


def _refuse_others(target: Ledger, written: Sequence[bytes], mend: bool) -> None:
    """Nothing that only `target` knows is ever lost: its sound entries must all be the source's."""
    told = set(written)
    for number in sorted(target.numbers()):
        path = target.entry_path(number)
        same = number <= len(written) and path.is_file() and path.read_bytes() == written[number - 1]
        if same or (mend and number <= len(written) and not _says_more(path, number, told)):
            continue
        raise BadUsage(
            f"{target.root} has an entry {number} that {'the back-up' if mend else 'the ledger'} has not: they parted "
            "after a common beginning, or one of them was changed. Nothing was copied. `wrackline verify` both, and "
            f"{'move that ledger aside to restore' if mend else 'name a new folder'}."
        )


def _says_more(path: Path, number: int, told: set[bytes]) -> bool:
    """Whether a sound entry stands there that is none of those."""
    try:
        data = path.read_bytes()
        _: Entry = read_entry(data, number)
    except (OSError, LedgerDamaged):
        return False
    return data not in told
