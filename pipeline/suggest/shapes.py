"""A wide shape as it is seen: which columns it takes, what their headings and cells are."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from pipeline.suggest.lexicon import Lexicon
from pipeline.suggest.seen import Seen
from pipeline.suggest.text import plain


@dataclass(frozen=True)
class WideSeen:
    """A wide shape: its kind, the columns it takes, what headings and cells are, and the TOML that says so.

    by_codes: its headings are codes of species that nobody here knows.
    """

    kind: str
    places: tuple[int, ...]
    told: tuple[str, ...]
    cell: str
    table: Mapping[str, object]
    why: str
    codes: Mapping[str, Mapping[str, str]] = field(default_factory=dict)
    asks_cell: bool = False
    cells: Mapping[int, str] = field(default_factory=dict)
    of_core: bool = False
    per_area: bool = False
    by_codes: bool = False

    @property
    def columns(self) -> set[str]:
        """Every column of ours that comes from it."""
        return {*self.told, self.cell, *self.cells.values()}


def one_of(texts: Sequence[str]) -> str:
    """A regular expression for any of these, the longest first."""
    return "|".join(re.escape(t) for t in sorted(set(texts), key=lambda t: (-len(t), t)))


def word_codes(columns: Sequence[Seen], words: Lexicon) -> dict[str, dict[str, str]]:
    """Their words for the states that the cells hold."""
    known, written = words.values["state"], dict.fromkeys(c for column in columns for c in column.cells)
    told = {c: known[plain(c)] for c in written if plain(c) in known and c.casefold() != known[plain(c)]}
    return {"state": told} if told else {}
