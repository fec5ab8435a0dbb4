"""Which files of the inboxes are at rest and news: what the sensor asks between two nights. It writes nothing.

A file is at rest when it is as large and as old as at the look before. Each is hashed once while it stays as it is.
"""

import hashlib
import json
from dataclasses import dataclass
from pathlib import Path

from pipeline import disk
from pipeline.ledger.files import redactions
from pipeline.ledger.store import Ledger
from pipeline.programme import open_programme, partner_names
from pipeline.receive import as_text, plain_files


@dataclass(frozen=True)
class Seen:
    """One look: what to remember for the next, what is at rest and news (partner, hash), and what still grows."""

    memory: str
    news: tuple[tuple[str, str], ...]
    growing: tuple[str, ...]

    @property
    def key(self) -> str:
        """The same for the same news, whatever the files are called and whenever they came."""
        return hashlib.sha256(json.dumps(self.news).encode()).hexdigest()


def look(root: Path, memory: str) -> Seen:
    """Look through the inboxes. memory: what the look before gave, "" for the first."""
    places = open_programme(root).places
    before, now = _remembered(memory), dict[str, list[int | str]]()
    entries = Ledger(places.ledger, compact=places.entries_cache).entries()
    known, erased = {(e.partner, e.drop) for e in entries if e.drop}, redactions(entries)
    news, growing = set[tuple[str, str]](), []
    for partner in partner_names(places):
        for path in plain_files(places.inbox / partner):
            name = as_text(path.relative_to(places.inbox).as_posix())
            try:
                stamp = path.stat()
                size, changed, digest = before.get(name, [-1, -1, ""])
                if (size, changed) != (stamp.st_size, stamp.st_mtime_ns):
                    now[name] = [stamp.st_size, stamp.st_mtime_ns, ""]
                    growing.append(name)
                    continue
                digest = str(digest) or disk.sha256_of(path)
            except OSError:  # gone meanwhile, or shut: a night tells of it
                continue
            now[name] = [stamp.st_size, stamp.st_mtime_ns, digest]
            if (partner, digest) not in known and digest not in erased:
                news.add((partner, digest))
    return Seen(json.dumps(now, separators=(",", ":")), tuple(sorted(news)), tuple(growing))


def _remembered(memory: str) -> dict[str, list[int | str]]:
    try:
        told = json.loads(memory)
        return {str(name): [int(size), int(changed), str(digest)] for name, (size, changed, digest) in told.items()}
    except (ValueError, TypeError, AttributeError):
        return {}
