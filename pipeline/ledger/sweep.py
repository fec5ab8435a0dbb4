"""Taking away what stopped runs left: files no entry names, half-made things, files that an entry calls erased.

A run keeps drops before any entry names them, so nothing is swept while one is at work: every such run shares a
lock that the sweep must have alone. Age would not do: a run may keep again what an older one left.
"""

from dataclasses import dataclass
from pathlib import Path

from pipeline import disk
from pipeline.ledger.files import erased_files, named_files
from pipeline.ledger.store import Ledger


@dataclass(frozen=True)
class Swept:
    """Files and folders taken away (or that would be), by their names in the ledger's folder, and their bytes."""

    removed: tuple[str, ...] = ()
    bytes: int = 0


def sweep(ledger: Ledger, dry_run: bool = False) -> Swept:
    """Take away strays. Call only while alone at work and writing, and of a ledger whose end was proved.

    LedgerDamaged when the entries do not hold together: what they should name might be taken for a stray.
    """
    entries = ledger.entries()
    kept = set(named_files(ledger, entries)) - set(erased_files(ledger, entries))
    strays = [p for p in ledger.stored()[0] if p not in kept]
    strays += sorted(ledger.scratch.iterdir()) if ledger.scratch.is_dir() else []
    size = sum(_size(p) for p in strays)
    for path in strays if not dry_run else ():
        if path.is_dir() and not path.is_symlink():
            disk.remove_folder(path)
        else:
            disk.remove(path)
    for folder in sorted({p.parent for p in strays} if not dry_run else ()):
        disk.sync_folder(folder)
    gone = [p for p in strays if dry_run or not p.exists()]
    return Swept(tuple(p.relative_to(ledger.root).as_posix() for p in gone), size)


def _size(path: Path) -> int:
    inside = path.rglob("*") if path.is_dir() and not path.is_symlink() else (path,)
    return sum(p.lstat().st_size for p in inside if not p.is_dir())
