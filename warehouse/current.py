"""The note `current` beside the projection: which file is to be read, up to which entry. Asked without DuckDB."""

import hashlib
import json
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import schemas

POINTER = "current"
SHAPE = 5  # of the base tables that no kind makes; another number makes the next run rebuild


@dataclass(frozen=True)
class Pointer:
    """Which file is current, up to which entry it reads, and that entry's hash."""

    file: str
    number: int
    hash: str
    shape: int


@cache
def shape() -> int:
    """What the base tables depend on: a projection made under other models or upcasts is made anew.

    Taken from the models' text, since a night without news does not load them.
    """
    texts = [p.read_bytes() for p in sorted(Path(schemas.__file__).parent.glob("*.py"))]
    return int(hashlib.sha256(b"".join([str(SHAPE).encode(), *texts])).hexdigest()[:12], 16)


def pointer(folder: Path) -> Pointer | None:
    """The current file, or None when there is none or the note about it cannot be read."""
    told = ""
    while told != (told := _note(folder)):  # another run may point elsewhere, and clear, between the two looks
        try:
            found = Pointer(**json.loads(told))
        except (ValueError, TypeError):
            return None
        if (folder / found.file).is_file():
            return found if found.shape == shape() else None
    return None


def _note(folder: Path) -> str:
    try:
        return (folder / POINTER).read_text()
    except (OSError, ValueError):
        return ""


def seen_head(folder: Path) -> tuple[int, str] | None:
    """Number and hash of the last entry this projection was made from, whatever became of its file."""
    try:
        told = json.loads((folder / POINTER).read_text())
        return int(told["number"]), str(told["hash"])
    except (OSError, ValueError, TypeError, KeyError):
        return None


def file_name(number: int) -> str:
    """Name of the projection made up to that entry."""
    return f"warehouse-{number:09d}.duckdb"


def pointer_text(number: int, head: str) -> bytes:
    """What the file `current` says once the projection up to that entry stands."""
    return (json.dumps({"file": file_name(number), "number": number, "hash": head, "shape": shape()}) + "\n").encode()
