"""In which language a partner is written to (what its mapping says, else the programme's, else English), and in which words."""

import tomllib
from collections.abc import Iterable
from typing import Any

from pipeline.intake.ways import SheetMap
from pipeline.tongue import LANGUAGES

ALSO = {"no": "nb", "nn": "nb"}


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


def own_words(sheets: Iterable[SheetMap]) -> dict[tuple[str, str], dict[str, str]]:
    """The partner's own word for each of ours, by kind and column: the first that its ways of writing name."""
    found: dict[tuple[str, str], dict[str, str]] = {}
    for part in (p for s in sheets for p in s.parts):
        for column, codes in part.codes.items():
            here = found.setdefault((part.kind, column), {})
            for theirs, ours in codes.items():
                here.setdefault(ours, theirs)
    return found


def _told(raw: bytes) -> dict[str, Any]:
    try:
        return tomllib.loads(raw.decode("utf-8"))
    except (UnicodeDecodeError, tomllib.TOMLDecodeError):
        return {}
