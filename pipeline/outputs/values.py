"""What an event says, in a partner's language: columns by name, our words as the partner writes them, numbers and days as letters do."""

import datetime as dt
import re
from collections.abc import Mapping
from contextlib import suppress
from types import MappingProxyType

from pipeline.outputs.layout import plain
from pipeline.outputs.words import Post
from pipeline.says import Saying
from pipeline.tongue import vocabulary
from schemas.kinds import Column, all_kinds

Theirs = Mapping[tuple[str, str], Mapping[str, str]]  # (kind, column) -> our word -> the partner's own for it
NOBODYS: Theirs = MappingProxyType({})
USUAL = (
    "method",
    "surge",
    "current",
    "amount_unit",
    "quota_unit",
)  # where our words are usual and others may stand too
LONGEST = 80  # characters of a text that are shown
_COUNTED = ("individuals", "plants", "deg")  # units that nobody writes behind a number


def value_in(_: Post, kind: str, name: str, text: str, theirs: Theirs = NOBODYS, typed: bool = False) -> str:
    """A value as this language writes it. text: as `says.in_words` gives it. What is not as its column says stays as it is.

    typed: our words for which the partner has none stay as they are, since so they stand in its cells.
    """
    column = _column(kind, name)
    if column is None:
        return _cut(text)
    if column.type == "yesno" or column.allowed or name in USUAL:
        usual = {} if typed and column.type != "yesno" else vocabulary(_.language)
        return theirs.get((kind, name), {}).get(text) or usual.get(text, _cut(text))
    with suppress(ValueError):
        if column.type in ("whole", "decimal"):
            return _.decimal(text)
        if column.type in ("day", "instant"):
            day, __, time = text.partition(" ")
            return f"{_.day(dt.date.fromisoformat(day))} {time}".strip()
    own = theirs.get((kind, name), {}).get(text)
    return _cut(own or text)


def with_unit(value: str, kind: str, name: str, heading: str) -> str:
    """A value with its unit, where the heading above it does not tell that."""
    column = _column(kind, name)
    unit = column.unit if column else ""
    told = re.search(
        rf"(?<![^\W_]){re.escape(unit)}(?![^\W_])", heading
    )  # a word of it: no “m” in “Profondeur maximum”
    return value if not unit or told or unit in _COUNTED else f"{value} {unit}"


def titled(_: Post, kind: str, name: str) -> str:
    """What a column is called in this language."""
    column = _column(kind, name)
    return _.title(column.title.lower()) if column else name


def saying_in(_: Post, kind: str, saying: Saying, theirs: Theirs = NOBODYS) -> str:
    """Columns and values on one line, "" for none."""
    return ", ".join(
        _("{title} “{value}”", title=titled(_, kind, name), value=value_in(_, kind, name, text, theirs))
        if text
        else _("{title} blank", title=titled(_, kind, name))
        for name, text in saying
    )


def _column(kind: str, name: str) -> Column | None:
    known = all_kinds().get(kind)
    return next((c for c in known.columns if c.name == name), None) if known else None


def _cut(text: str) -> str:
    told = plain(text)
    return told if len(told) <= LONGEST else told[:LONGEST] + " ..."
