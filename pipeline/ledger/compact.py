"""Entries end to end in one file beside the truth, so that a night reads one file instead of thousands.

Nothing rests on it. Each line is proved by the chain of hashes that ends in an entry of the ledger itself, and what
does not prove is not used. It may be deleted at any time, and verify, sweep and copies never look at it.
"""

import hashlib
import json
from collections.abc import Callable, Sequence
from pathlib import Path

from pipeline import disk
from pipeline.ledger.entry import BEFORE_FIRST, Entry, entry_from

WORTH_IT = 256  # entries that are not in it yet before it is written anew


def read_compact(path: Path, last: int, hash_of: Callable[[int], str]) -> list[Entry]:
    """The entries it holds, from the first on; none when they are not proved to be those of the ledger.

    last: the ledger's last number; hash_of: the hash of an entry's file.
    """
    try:
        lines = _lines(path, last, hash_of)
        told, previous, found = json.loads(b"[" + b",".join(lines) + b"]"), BEFORE_FIRST, []
        for number, (line, one) in enumerate(zip(lines, told, strict=True), 1):
            if one["entry"]["previous"] != previous:
                return []
            previous = _hash(line)
            found.append(entry_from(one["entry"], number))
    except (OSError, ValueError, KeyError, TypeError):
        return []
    return found


def count_compact(path: Path, last: int, hash_of: Callable[[int], str]) -> int:
    """How many entries it holds; 0 when its end is none of the ledger's."""
    return len(_lines(path, last, hash_of))


def _lines(path: Path, last: int, hash_of: Callable[[int], str]) -> list[bytes]:
    if not path.is_file():
        return []
    lines = [line + b"\n" for line in path.read_bytes().split(b"\n")[:-1]]
    return lines if lines and len(lines) <= last and _hash(lines[-1]) == hash_of(len(lines)) else []


def write_compact(path: Path, entries: Sequence[Entry]) -> None:
    """Write all entries, in order, from the first on."""
    disk.replace(path, b"".join(e.to_bytes() for e in entries))


def _hash(line: bytes) -> str:
    return hashlib.sha256(line).hexdigest()
