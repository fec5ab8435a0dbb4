"""In which language a partner is written to, and in which words: what its mapping says, else the blank sheet that it filled in,
else the programme's, else English.
"""

import tomllib
from collections.abc import Callable, Iterable, Sequence
from functools import lru_cache
from pathlib import Path
from typing import Any

from pipeline.intake.form_marks import read_form
from pipeline.intake.match import HEADER_SOUGHT_IN as TOP
from pipeline.intake.read import open_sheets
from pipeline.intake.ways import SheetMap
from pipeline.ledger.entry import Entry
from pipeline.tongue import LANGUAGES
from schemas.kinds import all_kinds

ALSO = {"no": "nb", "nn": "nb"}


NEWEST = 3  # sheets of a partner without a mapping that are asked for their language


def language_for(
    partner: str, mapping: bytes, rules: bytes, entries: Sequence[Entry], drop_path: Callable[[str], Path]
) -> str:
    """One of LANGUAGES, as `language_of` tells; where the mapping names none, what the partner's newest blank sheet of ours says.

    entries: those that may be looked at, oldest first. drop_path: where the bytes of a drop are.
    """
    if not _named(mapping):
        mine = [e for e in entries if e.partner == partner and any(s.header_row > 1 for s in e.sheets)]
        for e in reversed(mine[-NEWEST:]):
            path = drop_path(e.drop)
            if path.is_file() and (said := _language_of_drop(e.drop, e.name, path)):  # it may have been erased since
                return language_of(f'language = "{said}"'.encode(), rules)
    return language_of(mapping, rules)


def _named(mapping: bytes) -> bool:
    told = _told(mapping)
    return bool(told.get("letters") or told.get("language"))


@lru_cache(maxsize=512)  # asked for every letter and page; the bytes under a hash never change
def _language_of_drop(digest: str, name: str, path: Path) -> str:  # the hash is what it is remembered by
    return language_in(path, name)


def language_in(path: Path, name: str) -> str:
    """The language that a blank sheet of ours says of itself, in a file of that name; "" where none does, or none can be read."""
    try:
        told = (read_form(c.strip(), all_kinds()) for s in open_sheets(path, name) for row in s.head[:TOP] for c in row)
        found = next((form.language for form in told if form), "")
    except (OSError, UnicodeError, ValueError):  # erased on request, or not to be read: told of elsewhere
        return ""
    return found if found in LANGUAGES else ""


def language_of(mapping: bytes, rules: bytes) -> str:
    """One of LANGUAGES. mapping: the partner's TOML, or nothing. rules: the programme's TOML.

    A sheet may be in a language in which nobody writes letters; then the programme's is taken. A file that cannot be
    read is told of elsewhere.
    """
    own, programmes = _told(mapping), _told(rules).get("programme", {})
    for said in (own.get("letters"), own.get("language"), programmes.get("language")):
        low = str(said or "").casefold()[:2]
        if ALSO.get(low, low) in LANGUAGES:
            return ALSO.get(low, low)
    return "en"


def contact_of(rules: bytes) -> str:
    """Where a programme is written to, as its TOML says under [publishing]: its name there and its address; "" without an address."""
    told = _told(rules).get("publishing", {})
    told = told if isinstance(told, dict) else {}
    address, name = str(told.get("email") or "").strip(), str(told.get("organisation") or "").strip()
    return ", ".join(t for t in (name, address) if t) if address else ""


def own_words(sheets: Iterable[SheetMap]) -> dict[tuple[str, str], dict[str, str]]:
    """The partner's own word for each of ours, by kind and column: the first that its ways of writing name."""
    found: dict[tuple[str, str], dict[str, str]] = {}
    for part in (p for s in sheets for p in s.parts):
        for column, codes in part.codes.items():
            here = found.setdefault((part.kind, column), {})
            for theirs, ours in codes.items():
                here.setdefault(ours, theirs)
    return found


@lru_cache(maxsize=64)  # asked for every letter, and a programme has few partners
def _told(raw: bytes) -> dict[str, Any]:
    try:
        return tomllib.loads(raw.decode("utf-8"))
    except (UnicodeDecodeError, tomllib.TOMLDecodeError):
        return {}
