"""In which language a partner is written to: what its mapping says, else the programme's, else English."""

import tomllib
from functools import lru_cache
from typing import Any

from pipeline.tongue import LANGUAGES

ALSO = {"no": "nb", "nn": "nb"}


@lru_cache(maxsize=64)  # asked for every letter, and a programme has few partners
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


def _told(raw: bytes) -> dict[str, Any]:
    try:
        return tomllib.loads(raw.decode("utf-8"))
    except (UnicodeDecodeError, tomllib.TOMLDecodeError):
        return {}
