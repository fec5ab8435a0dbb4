"""out/about.json: which ledger this was made from. It stands outside what must be the same bytes every time."""

import datetime as dt
import json
import re
from importlib.metadata import version
from pathlib import Path

from pipeline import disk


def write(out: Path, number: int, head: str, as_of: dt.date, figures: int) -> None:
    """Note the ledger's head that `out` was made from, and with what."""
    told = {
        "entry": number,
        "head": head,
        "as_of": as_of.isoformat(),
        "figures": figures,
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


def last_letter(out: Path) -> int:
    """The highest receipt number that a letter was written for, 0 if there is none."""
    found = (re.match(r"(\d{6,})-", p.name) for p in (out / "letters").glob("*/*.txt"))
    return max((int(m.group(1)) for m in found if m), default=0)
