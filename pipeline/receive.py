"""From the inboxes to kept bytes. Files stay where they are; one that cannot be had now is left for the next run."""

import os
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

from pipeline import disk
from pipeline.ledger.store import Ledger
from pipeline.programme import Places, partner_names
from pipeline.world import FORBIDDEN

Stamp = tuple[int, int]  # a file's size and the time of its last change


@dataclass(frozen=True)
class Found:
    """A file in an inbox that the ledger does not know yet, or a kept drop that is read again."""

    partner: str
    name: str
    drop: str
    size: int
    retaken: bool = False


@dataclass
class Received:
    """How many files were looked at, which are news, and a sentence for each that was left for the next run."""

    looked_at: int = 0
    news: list[Found] = field(default_factory=list)
    left: list[str] = field(default_factory=list)


def receive(
    places: Places,
    ledger: Ledger,
    known: set[tuple[str, str]],
    erased: set[str],
    sizes: set[int],
    expect: Callable[[int], None],
) -> Received:
    """Keep the bytes of every inbox file that is not known: (partner, drop) pairs. Call only while at work.

    sizes: of all drops there ever were; a file of any other size is news, and read once instead of twice. erased: hashes
    of drops whose bytes were erased; they are never kept again, whoever hands them in. What changes while the inboxes are
    gone through is still being written and is left. A file that pauses longer than that is taken as it is: its bytes are
    kept as they were, and the whole file is news again. expect: told the size of each file that is to be kept.
    """
    told, met, seen = Received(), set(known), list[tuple[Found, Path, Stamp]]()
    for partner in partner_names(places):
        inbox = places.inbox / partner
        shut: list[OSError] = []
        files = plain_files(inbox, shut)
        told.left += [f"{e.filename} cannot be looked into ({e.strerror}); have that changed." for e in shut]
        for path in files:
            told.looked_at += 1
            name = as_text(path.relative_to(inbox).as_posix())
            try:
                stamp = _stamp(path)
                if stamp[0] in sizes and ((partner, digest := disk.sha256_of(path)) in met or digest in erased):
                    continue
                expect(stamp[0])
                digest, size = ledger.keep_file(path, erased)
            except FileNotFoundError:
                if path.exists():  # it is the ledger's own folder that is gone
                    raise
                told.left.append(f"{partner}/{name} was taken away before it could be read.")
                continue
            except OSError as e:
                if e.errno not in FORBIDDEN or e.filename != str(path):
                    raise
                told.left.append(f"{partner}/{name} may not be read ({e.strerror}); have that changed.")
                continue
            if (partner, digest) not in met and digest not in erased:  # the file may have grown between the two looks
                met.add((partner, digest))
                seen.append((Found(partner, name, digest, size), path, stamp))
    for found, path, stamp in seen:
        if _changed(path, stamp):
            told.left.append(f"{found.partner}/{found.name} is still being written; the next run takes it.")
        else:
            told.news.append(found)
    return told


def plain_files(inbox: Path, shut: list[OSError] | None = None) -> list[Path]:
    """The plain files of an inbox, in order. A link is none: it might lead to what its owner may not read.

    shut: gets a fault for every folder that could not be opened.
    """
    found, folders = [], [str(inbox)]
    while folders:  # one by one: folders a thousand deep must not exhaust anything
        try:
            with os.scandir(folders.pop()) as here:
                for at in here:
                    if at.is_dir(follow_symlinks=False):
                        folders.append(at.path)
                    elif at.is_file(follow_symlinks=False) and not at.name.startswith((".", "~")):
                        found.append(Path(at.path))
        except OSError as e:
            if shut is not None:
                shut.append(e)
    return sorted(found)


def as_text(name: str) -> str:
    """A file's name as text that can be written down: bytes that are none are told by their numbers."""
    return name.encode("utf-8", "backslashreplace").decode()


def _stamp(path: Path) -> Stamp:
    seen = path.stat()
    return seen.st_size, seen.st_mtime_ns


def _changed(path: Path, stamp: Stamp) -> bool:
    """One that is gone by now did not change: what was kept of it is whole."""
    try:
        return _stamp(path) != stamp
    except FileNotFoundError:
        return False
