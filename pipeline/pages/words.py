"""The language of pages: a tongue that also tells estimates, their intervals, and what stands beside them, again.

Notes, cautions, names of estimators and the catalogue's sentences are stored in English for ever. They are told in another
language by finding the sentence with {gaps} that they were made from; what fits none is told in English.
"""

import datetime as dt
import re
from dataclasses import dataclass, field
from functools import cache, lru_cache
from pathlib import Path

from pipeline.indicators.estimate import Estimate
from pipeline.tongue import GAP, LANGUAGES, Pattern, Tongue, texts, vocabulary

__all__ = ["FOLDER", "LANGUAGES", "Words", "words"]

FOLDER = Path(__file__).parent / "words"
STORED = "stored"  # context of the sentences that figures and the catalogue hold
_NUMBER = r"[-+−]?\d+(?:,\d{3})*(?:\.\d+)?(?:e[-+]?\d+)?"
_DAY = r"\d{4}-\d\d-\d\d"
_FEW = ": too few to decide anything by"  # how the caution of few frames ends
FAR = 1000
_OURS = {"word", "kind", "what"}  # words of ours: a sentence fits only where they are known
_SENTENCES = {"reason", "rest"}  # said again themselves
_LISTS = {"list", "range"}  # names and numbers in a row: the numbers are written anew
_ISO = re.compile(r"(?<![\w.-])(\d{4})-(0[1-9]|1[0-2])(?:-(0[1-9]|[12]\d|3[01]))?(?![\w-])")
_ENDS = re.compile(r"(; |(?<=\.) (?=[A-Z]))")  # between the sentences that a text was put together of


def _sort(gap: str) -> str:
    """What a gap may hold: a day, a number, one of our words, a sentence, or anything."""
    name = gap.rstrip("0123456789")
    if name == "day":
        return "day"
    sorts = (
        ("ours", _OURS),
        ("sentence", _SENTENCES),
        ("list", _LISTS),
        ("when", {"from", "to", "season"}),
        *((n, {n}) for n in ("words", "told", "unit")),
    )
    return "number" if len(name) == 1 else next((sort for sort, names in sorts if name in names), "any")


def _may_hold(gap: str) -> str:
    if gap == "code":
        return r"[^;:\s]+"
    return {"number": _NUMBER, "day": _DAY, "sentence": ".+"}.get(_sort(gap), "[^;]+?")


@dataclass(frozen=True)
class Words(Tongue):
    """One language of the pages. patterns: the stored sentences with gaps, the firmest first."""

    patterns: tuple[Pattern, ...] = field(default=(), repr=False)

    def __call__(self, text: str, **parts: object) -> str:
        """As of any tongue; a word of our columns that no page has of its own is told as blank sheets call it."""
        if parts or text in self.texts:
            return super().__call__(text, **parts)
        return vocabulary(self.language).get(text, text)

    def when(self, told: str) -> str:
        """A text with its days and months as this language writes them: 2025-03-04, 2025-03."""
        return _ISO.sub(lambda m: self._when(*m.groups()), told)

    def _when(self, year: str, month: str, day: str | None) -> str:
        first = dt.date(int(year), int(month), int(day or 1))
        return self.day(first) if day else self.month(first)

    def again(self, english: str) -> str:
        """A stored text in this language, part by part where it was put together; as it is where it was made of none of ours."""
        if self.language == "en" or not english:
            return english
        return _again(self.language, english)

    def knows(self, english: str) -> bool:
        """Whether every part of a stored text was made from a sentence of ours."""
        return all(said is not None for _part, said in self._parts(english))

    def _parts(self, english: str) -> list[tuple[str, str | None]]:
        """A stored text in the longest parts that are ours, each with what it is in this language, and what joins them."""
        pieces, found, at = _ENDS.split(english), [], 0
        while at < len(pieces):
            for end in range(len(pieces), at, -2):
                part = "".join(pieces[at:end])
                said = self._said(part)
                if said is not None or end == at + 1:
                    break
            found.append((part, said))
            found += [(joint, self.texts.get(joint, joint)) for joint in pieces[end : end + 1]]
            at = end + 1
        return found

    def _said(self, english: str) -> str | None:
        if english in self.texts:
            return self.texts[english]
        return next((m for p in self.patterns if (m := self._filled(p, english)) is not None), None)

    def _filled(self, pattern: Pattern, english: str) -> str | None:
        found = pattern.found.fullmatch(english) if pattern.held in english else None
        if found is None:
            return None
        gaps = {name: self._gap(_sort(name), text) for name, text in found.groupdict().items()}
        return None if None in gaps.values() else self(pattern.text, **gaps)

    def _gap(self, sort: str, text: str) -> str | None:
        """What stood in a gap in this language; None where it should be ours and is not."""
        if sort == "day":
            return self.day(dt.date.fromisoformat(text))
        if sort == "number":
            return self._digits(text)
        if sort == "when":
            return self.when(text)
        if sort == "ours":
            return self.texts.get(text)
        if sort == "sentence":
            return self.again(text) if self.knows(text) else None
        if sort == "words":
            return ", ".join(map(self, text.split(", ")))
        if sort == "told":
            return ", ".join(self.again(t) if self.knows(t) else self._gap("list", t) or t for t in text.split(", "))
        if sort == "unit":
            return self.unit(text)
        if sort == "list":
            return re.sub(rf"(?<![\w.-]){_NUMBER}(?!\w)", lambda m: self._digits(m[0]), text)
        return text

    def _digits(self, text: str) -> str:
        """A number as it was printed, not a digit more or fewer, with the marks of this language."""
        if "e" in text:
            return text
        whole, _, decimals = text.replace(",", "").partition(".")
        sign, whole = (whole[0], whole[1:]) if whole[0] in "+-−" else ("", whole)
        grouped = self.money(float(whole)) if "," in text else whole
        return sign + grouped + (self.number(0.5)[1] + decimals if decimals else "")

    def of(self, value: float, unit: str) -> str:
        """A value of that unit without the unit: fractions in per cent."""
        if unit == "fraction":
            return self("{n} %", n=self.number(100 * value, 2 if value < 0.995 else 3))
        return self.number(value)

    def value(self, e: Estimate) -> str:
        """An estimate in few characters: a value, bounds, or a refusal."""
        if e.state == "estimated" and e.value is not None:
            return self.of(e.value, e.unit)
        if e.state == "bounded" and e.value_from is not None and e.value_to is not None:
            return self.span(e.value_from, e.value_to, e.unit)
        if e.state == "bounded" and e.value_from is not None:
            return self("at least {value}", value=self.of(e.value_from, e.unit))
        return self("cannot tell")

    def interval(self, e: Estimate) -> str:
        """The 95 % interval, "" where none can honestly be given."""
        return "" if e.low is None or e.high is None else self.span(e.low, e.high, e.unit)

    def between(self, e: Estimate) -> str:
        """The 95 % interval for a sentence: one of so few frames that it holds everything is told in words, its ends in tables."""
        return self("too few frames: the interval says nothing") if says_nothing(e) else self.interval(e)

    def brief(self, e: Estimate) -> str:
        """The same in a line of the first page, where marks stand beside their numbers."""
        return self("too few frames") if says_nothing(e) else self.interval(e)

    def span(self, low: float, high: float, unit: str) -> str:
        """From one value to another."""
        if unit == "fraction":
            return self("{low} to {high}", low=self.number(100 * low, 2), high=self.of(high, unit))
        return self("{low} to {high}", low=self.of(low, unit), high=self.of(high, unit))

    def parted(self, unit: str) -> str:
        """A unit behind its value, with the blank between them that this language sets; "" for a fraction."""
        return self("{n} %", n="") if unit == "%" else f" {told}" if (told := self.unit(unit)) else ""

    def unit(self, unit: str) -> str:
        """A unit as printed. One that names its currency is put together: EUR per hectare."""
        plain = unit.replace("m²", "m2")
        what, per, of = plain.partition(" per ")
        told = self(plain)
        if plain == "fraction":
            return ""
        if told == plain and per:
            told = self("{what} per {of}", what=self(what), of=self(of))
        return told.replace("m2", "m²").replace("degC", "°C")


def says_nothing(e: Estimate) -> bool:
    """Whether the frames were too few and the interval spans a factor, or reaches, so far that nobody learns from it.

    A thousandfold: common practice, no source.
    """
    if e.low is None or e.high is None or not any(c.endswith(_FEW) for c in e.cautions):
        return False
    return 0 < FAR * e.low <= e.high or max(-e.low, e.high) >= FAR * max(abs(e.value or 0.0), 1.0)


@lru_cache(maxsize=100_000)  # the same cautions stand on many pages
def _again(language: str, english: str) -> str:
    return "".join(part if said is None else said for part, said in words(language)._parts(english))


@cache
def words(language: str) -> Words:
    """The words of a language; BadUsage when there are none of it."""
    said = texts(language, FOLDER)
    found = [Pattern.of(t, _may_hold) for t in stored() if GAP.search(t)]
    return Words(language, said, tuple(sorted(found, key=lambda p: (-p.firm, p.text))))


@cache
def stored() -> tuple[str, ...]:
    """Every sentence that figures and the catalogue may hold, in English, with {gaps}."""
    from babel.messages.pofile import read_po

    with (FOLDER / f"{LANGUAGES[1]}.po").open("rb") as f:
        return tuple(str(m.id) for m in read_po(f) if m.context == STORED)
