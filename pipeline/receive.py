"""The first step: every inbox file that the ledger does not know yet is kept byte for byte. Joins inboxes and ledger."""

from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

from pipeline import disk
from pipeline.ledger.store import Ledger
from pipeline.programme import Places, partner_names


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
    """How many files were looked at, the news among them, and those passed over, each with its reason."""

    looked_at: int = 0
    news: list[Found] = field(default_factory=list)
    passed_over: list[str] = field(default_factory=list)


def receive(places: Places, ledger: Ledger, known: set[tuple[str, str]], erased: set[str]) -> Received:
    """Keep the bytes of every inbox file that is not known; files stay where they are. Call only while at work.

    erased: hashes of drops whose bytes were erased; they are never kept again, whoever hands them in. A file that
    cannot be read is passed over, so that one partner's file stops nobody else's night.
    """
    received, met = Received(), set(known)
    for partner in partner_names(places):
        inbox = places.inbox / partner
        for path in _files(inbox):
            received.looked_at += 1
            name = path.relative_to(inbox).as_posix()
            try:
                digest = disk.sha256_of(path)
                if (partner, digest) in met or digest in erased:
                    continue
                digest, size = ledger.keep_file(path)
            except OSError as e:
                if Path(e.filename or "") != path:  # our own disk, not their file
                    raise
                received.passed_over.append(f"inbox/{partner}/{name} cannot be read: {e.strerror}")
                continue
            if (partner, digest) not in met:  # the file may have grown between the two looks
                met.add((partner, digest))
                received.news.append(Found(partner, name, digest, size))
    return received


def _files(inbox: Path) -> Iterator[Path]:
    """The plain files of an inbox, in order. A link is none: it might lead to what its owner may not read."""
    for path in sorted(inbox.rglob("*")):
        if path.is_file() and not path.is_symlink() and not path.name.startswith((".", "~")):
            yield path
