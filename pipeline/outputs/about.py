"""out/about.json and the letters: which ledger they were made from. They stand outside what must be the same bytes every time."""

import datetime as dt
import json
import re
from importlib.metadata import version
from pathlib import Path

from pipeline import disk

# a letter's last line: receipt, hash of its entry, drop, each behind words of the letter's language
_RECEIPT = re.compile(r"[^\d,]+ (\d+), [^,]+ ([0-9a-f]{16}), [^,]+ [0-9a-f]+\.")


def write(out: Path, number: int, head: str, as_of: dt.date, figures: int, held: int, waiting: int) -> None:
    """Note the ledger's head that `out` was made from, with what, and what is open."""
    told = {
        "entry": number,
        "head": head,
        "as_of": as_of.isoformat(),
        "figures": figures,
        "held": held,
        "waiting": waiting,
        "made_with": {name: version(name) for name in ("wrackline", "duckdb", "pyarrow", "numpy", "scipy")},
    }
    disk.replace(out / "about.json", (json.dumps(told, indent=1, sort_keys=True) + "\n").encode())


def published_head(out: Path) -> tuple[int, str] | None:
    """Number and hash of the entry that `out` was made from, or None when it cannot be told."""
    try:
        told = json.loads((out / "about.json").read_text())
        return int(told["entry"]), str(told["head"])
    except (OSError, ValueError, TypeError, KeyError):
        return None


def published_day(out: Path) -> str:
    """The day that the published figures are as of, "" when it cannot be told."""
    try:
        return str(json.loads((out / "about.json").read_text())["as_of"])
    except (OSError, ValueError, TypeError, KeyError):
        return ""


def still_open(out: Path) -> tuple[int, int] | None:
    """Parts held and things waiting for a ruling when `out` was made, or None when it cannot be told."""
    try:
        told = json.loads((out / "about.json").read_text())
        return int(told["held"]), int(told["waiting"])
    except (OSError, ValueError, TypeError, KeyError):
        return None


def letters_seen(out: Path, last: int) -> list[tuple[str, tuple[int, str]]]:
    """What every letter witnesses: where it is, its receipt's number and the beginning of that entry's hash.

    The hash is "" in letters that were written before they carried one. Of letters about entries after `last`, the
    end of the ledger, the newest tells enough.
    """
    found = []
    for path in (out / "letters").glob("*/*.txt"):
        if named := re.match(r"(\d{6,})-", path.name):
            line = path.read_bytes()[-200:].decode(errors="replace").rstrip("\n").rpartition("\n")[2]
            told = _RECEIPT.fullmatch(line)
            number, seen = (int(told[1]), told[2]) if told else (int(named[1]), "")
            found.append((path.relative_to(out.parent).as_posix(), (number, seen)))
    found.sort(key=lambda s: (s[1], s[0]))
    return [s for s in found if s[1][0] <= last] + [s for s in found if s[1][0] > last][-1:]
