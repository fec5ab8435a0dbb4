"""The word lists that come with us: what partners call our columns, words, units and kinds, in five languages."""

import re
import tomllib
from bisect import bisect_left
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache, cached_property
from itertools import islice
from pathlib import Path

from pipeline.intake.names import Names
from pipeline.suggest.text import plain, tokens
from schemas.kinds import Kind

FOLDER = Path(__file__).parent / "words"
LANGUAGES = ("en", "no", "pt", "es", "fr")
# not columns of ours, but pieces of a day
PIECES = ("year", "month", "day_of_month", "clock")
GROWN_FROM = 8
CUT_FROM = 3  # letters: shorter ones may be cut from anything
FILLER = 0.3  # what a word weighs that only makes a question of a heading: “Date of your dive”
FILLING = frozenset(["your", "you", "did", "does", "do", "were", "was", "is", "are", "it", "we", "they", "this", "that", "there", "on", "my", "our", "us", "please", "should", "could", "would", "had", "have", "su", "sus", "tu", "tus", "usted", "fue", "era", "seu", "sua", "teu", "tua", "foi", "votre", "vos", "vous", "etait", "est", "avez", "ete", "din", "ditt", "dine", "du", "dere", "deres", "var", "er", "ble", "har"])  # fmt: skip
NOTHING = "nothing"  # what partners write down and we have no place for: a slope, a boat, a battery
STAMP = "stamp"  # when a form was sent: the day only where no other column tells it
DOERS = "doers"  # who did it is not who wrote it down: no column of ours holds who dived, found or carried


@dataclass(frozen=True)
class Lexicon:
    """phrases: (phrase, column, language); values: column -> plain word -> ours; kinds: plain word -> kind; units likewise.

    cell_words, cell_looks: of columns of free text, the words and the looks that speak for them.
    """

    phrases: Sequence[tuple[str, str, str]]
    values: Mapping[str, Mapping[str, str]]
    kinds: Mapping[str, str]
    units: Mapping[str, str]
    blanks: frozenset[str]
    said_of: Mapping[str, int]
    with_word: Mapping[str, Sequence[int]]
    phrases_of: Mapping[str, Sequence[int]]
    cell_words: Mapping[str, frozenset[str]]
    cell_looks: Mapping[str, re.Pattern[str]]

    @cached_property
    def texts(self) -> list[str]:
        """The phrases alone."""
        return [phrase for phrase, _, _ in self.phrases]

    @cached_property
    def _words(self) -> list[str]:
        return sorted(self.with_word)

    def ours(self, column: str, cell: str) -> str:
        """Our word for a cell, "" when it is none: written out, or cut short so that it can be one of ours only (“tilf.”)."""
        known, text = self.values.get(column, {}), plain(cell)
        if text in known or len(text) < CUT_FROM or " " in text:
            return known.get(text, "")
        meant = {ours for word, ours in known.items() if word.startswith(text)}
        return meant.pop() if len(meant) == 1 else ""

    @cached_property
    def genera(self) -> frozenset[str]:
        """The first words of the species that are known."""
        return frozenset(plain(name).split()[0] for name in self.values["species"].values())

    @cached_property
    def alive(self) -> frozenset[str]:
        """What cover and counts are told of beside species: turf, urchins."""
        return self.cell_words["alive"]

    @cached_property
    def nothing(self) -> frozenset[str]:
        """What is written down and has no place with us."""
        return frozenset(self.phrases[at][0] for at in self.phrases_of[NOTHING])

    def with_names(self, names: Names) -> "Lexicon":
        """The same with the species that a programme knows, by every name that means one of them."""
        everyday = {
            w: next(iter(several)) for w, by in names.everyday.items() if len(several := set().union(*by.values())) == 1
        }
        species = {plain(w): name for w, name in {**everyday, **names.scientific}.items()}
        return replace(self, values={**self.values, "species": {**self.values["species"], **species}})

    def weight(self, word: str) -> float:
        """How much a word tells: 3 when it is said of one column of ours only, less the more; 1.2 when of none."""
        if word in FILLING:
            return FILLER
        return 3.0 / (1 + 0.35 * (self.said_of[word] - 1)) if word in self.said_of else 1.2

    def apart(self, word: str) -> list[str]:
        """A word grown together out of two that are known, as Norwegian does: “frotetthet” is “fro” and “tetthet”."""
        if word not in self.said_of and len(word) >= GROWN_FROM:
            for cut in range(len(word) - 4, 2, -1):
                first, last = word[:cut], word[cut:]
                for begin in (first, first.removesuffix("s"), first.removesuffix("e")):
                    if last in self.said_of and begin in self.said_of and len(begin) > 2:
                        return [begin, last]
        return [word]

    def phrases_with(self, here: Sequence[str], cut: Collection[str]) -> list[int]:
        """The phrases that share a word, or its beginning, with these."""
        found: set[int] = {at for word in here for at in self.with_word.get(word, ())}
        for word in here:
            begin = word if word in cut else word[:5]
            if len(begin) > 1 and (word in cut or len(word) >= 5):
                first = bisect_left(self._words, begin)
                for w in islice(self._words, first, None):
                    if not w.startswith(begin):
                        break
                    found.update(self.with_word[w])
        return sorted(found)


@cache
def unit_names() -> dict[str, str]:
    """How a unit is written, in lower case -> our name of it."""
    read = tomllib.loads((FOLDER / "units.toml").read_text(encoding="utf-8"))["units"]
    return {written.casefold(): ours for ours, several in read.items() for written in several}


def lexicon(kinds: Mapping[str, Kind]) -> Lexicon:
    """Every list, and our own titles and names as English ones."""
    read = {lang: tomllib.loads((FOLDER / f"{lang}.toml").read_text(encoding="utf-8")) for lang in LANGUAGES}
    phrases = {
        (plain(p), NOTHING if c == DOERS else c, lang): None
        for lang, t in read.items()
        for c, ps in t["headings"].items()
        for p in ps
    }
    values: dict[str, dict[str, str]] = {}
    for t in read.values():
        for column, ours in t["values"].items():
            known = values.setdefault(column, {})
            for word, several in ours.items():
                for w in (word, *several):
                    known.setdefault(plain(w), word)
    genera = {plain(name).split()[0] for name in values["species"].values()}
    # a genus is none of its species
    values["species"] = {w: name for w, name in values["species"].items() if w not in genera}
    for kind in kinds.values():
        for c in kind.columns:
            phrases[plain(c.name), c.name, "own"] = None
            phrases[plain(c.title.split(" (")[0]), c.name, "en"] = None
            for word in c.allowed:
                values.setdefault(c.name, {})[plain(word)] = word
    named = {plain(w): kind for t in reversed(read.values()) for kind, ws in t["kinds"].items() for w in (kind, *ws)}
    blanks = frozenset(w.casefold() for t in read.values() for w in t["blanks"]["nothing"])
    kept = [p for p in phrases if p[0]]
    said_of: dict[str, set[str]] = {}
    with_word: dict[str, list[int]] = {}
    phrases_of: dict[str, list[int]] = {}
    for at, (phrase, column, _) in enumerate(kept):
        phrases_of.setdefault(column, []).append(at)
        for word in tokens(phrase):
            said_of.setdefault(word, set()).add(column)
            with_word.setdefault(word, []).append(at)
    counts = {word: len(several) for word, several in said_of.items()}
    cells = tomllib.loads((FOLDER / "cells.toml").read_text(encoding="utf-8"))
    worded = {column: frozenset(map(plain, several)) for column, several in cells["words"].items()}
    looks = {column: re.compile(pattern) for column, pattern in cells["patterns"].items()}
    return Lexicon(kept, values, named, unit_names(), blanks, counts, with_word, phrases_of, worded, looks)
