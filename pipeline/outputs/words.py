"""The languages of letters: sentences of our own, and those that the ledger holds in English, said again.

Faults, notes and standing rules are stored as English text for ever. They are put into another language by finding the
sentence with {gaps} that they were made from, so that letters of old ledgers read like those of new ones; the partner's
own words, names and numbers in the gaps stay as they are. What fits no such sentence is told in English.
"""

import datetime as dt
import re
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from functools import cache, lru_cache
from pathlib import Path

from babel.messages.pofile import read_po

from pipeline.plural import n_of
from pipeline.tongue import GAP, LANGUAGES, Pattern, Tongue, texts, vocabulary

FOLDER = Path(__file__).parent / "words"
STORED = "stored"  # context of the sentences that are met in the ledger
_NUMBERS = {"n", "m", "low", "high"}
_LIMITS = {"low", "high"}
_WORDS = {"role"}  # of our own vocabulary
_OURS = {"title", "description", "kind"}  # words of ours alone, so that no sentence of a partner's is taken for one
_LISTS = {"columns", "words", "choices"}
_CHOICE = re.compile(r"(.+) \(([^()]+)\)")  # a partner's word, ours behind it
_SENTENCES = {"reason", "count", "unit"}  # may be said again themselves
_TOLD_BY_US = {"formula without value", "merged cell"}  # faults whose cell we tell of, since it cannot be shown
_MORE = re.compile(r"(.+) and (\d+) more", re.DOTALL)  # how a long list ends
_COLUMN = re.compile(r"“[^”]*”|[^,“]+(?:, (?:low|high|at most))?")


def _gap(name: str) -> str:
    return r"\S+?" if name in _NUMBERS else ".+?"


@dataclass(frozen=True)
class Post(Tongue):
    """One language of what partners get. patterns: the stored sentences with gaps, the firmest first."""

    patterns: tuple[Pattern, ...] = field(default=(), repr=False)

    def count(self, count: int, noun: str, many: str = "") -> str:
        """The count and the noun in its number."""
        if self.language == "en":
            return n_of(count, noun, many)
        return self(f"{{n}} {noun if count == 1 else many or noun + 's'}", n=self.whole(count))

    def whole(self, count: int) -> str:
        """A count, grouped as this language does."""
        return f"{count:,}" if self.language == "en" else self.money(count)

    def quoted(self, text: str) -> str:
        """A word in the quotation marks of this language."""
        return self("“{word}”", word=text)

    def found(self, code: str, text: str) -> str:
        """What was found in a cell: as it stood there, or in our own words where a program shows what no cell says."""
        if code in _TOLD_BY_US:
            return self("found: {what}", what=self.again(text))
        return self("found “{word}”", word=text)

    def listed(self, parts: Sequence[str]) -> str:
        """Parts of a line, one behind the other."""
        made = parts[0] if parts else ""
        for other in parts[1:]:
            made = self("{one}; {other}", one=made, other=other)
        return made

    def title(self, title: str) -> str:
        """The name of one of our columns, with a capital if it came with one."""
        said = self.texts.get(title.lower())
        return title if said is None else said[:1].upper() + said[1:] if title[:1].isupper() else said

    def again(self, english: str) -> str:
        """A stored sentence in this language; as it is where it was made from none of ours."""
        if self.language == "en" or not english:
            return english
        return _again(self.language, english)

    def knows(self, english: str) -> bool:
        """Whether a stored sentence was made from one of ours."""
        return english in self.texts or any(self._filled(p, english) is not None for p in self.patterns)

    def _filled(self, pattern: Pattern, english: str) -> str | None:
        found = pattern.found.fullmatch(english)
        if found is None:
            return None
        gaps: dict[str, object] = {}
        for name, text in found.groupdict().items():
            if name in _OURS:
                said = self.texts.get(text) or self._inside(text)
                if said is None:
                    return None
                gaps[name] = said
            elif name in _SENTENCES:
                gaps[name] = self.again(text)
            elif name in _LISTS:
                gaps[name] = self._list(name, text)
            elif name == "partners":
                first, *others = text.split(", or else of ")
                gaps[name] = first + "".join(self(", or else of {partner}", partner=p) for p in others)
            elif name in _LIMITS and text:
                gaps[name] = self._limit(text)
            elif name in _WORDS:
                gaps[name] = vocabulary(self.language).get(text, text)
            elif name == "titles":
                gaps[name] = " + ".join(self.title(t) for t in text.split(" and "))
            else:
                gaps[name] = text
        return self(pattern.text, **gaps)

    def _list(self, name: str, text: str) -> str:
        """Names or row numbers one behind the other, and how many more there are."""
        if cut := _MORE.fullmatch(text):
            return self("{list} and {n} more", list=self._list(name, cut[1]), n=self.whole(int(cut[2])))
        if name == "choices":
            told = [(_CHOICE.fullmatch(t), t) for t in text.split(", ")]
            mine = [self._called(choice[1], choice[2]) for choice, _ in told if choice]
            return ", ".join(mine + [self._called(t, t) for choice, t in told if not choice])
        if name == "words":
            return re.sub("“([^”]*)”", lambda quoted: self.quoted(quoted[1]), text)
        return ", ".join(self._column(c.strip()) for c in _COLUMN.findall(text) if c.strip())

    def _called(self, word: str, ours: str) -> str:
        """A word that may be written, and behind it what ours for it is in this language, where that says more."""
        said = vocabulary(self.language).get(ours, ours)
        return word if said.casefold() == word.casefold() else f"{word} ({said})"

    def _inside(self, text: str) -> str | None:
        """A sentence that stands in brackets, and so begins small."""
        said = self.texts.get(text[:1].upper() + text[1:])
        return said[:1].lower() + said[1:] if said else None

    def _limit(self, text: str) -> str:
        """A number or a day as this language writes it."""
        with suppress(ValueError):
            return self.decimal(text)
        with suppress(ValueError):
            return self.day(dt.date.fromisoformat(text))
        return text

    def _column(self, told: str) -> str:
        return self.quoted(told[1:-1]) if told.startswith("“") else self.title(_titles().get(told, told))


@cache
def _titles() -> dict[str, str]:
    """What our columns are called, for sentences that name them as programme.toml does."""
    from schemas.kinds import all_kinds

    return {c.name: c.title.lower() for k in all_kinds().values() for c in k.columns}


@lru_cache(maxsize=50_000)  # a file of many faults has few sentences
def _again(language: str, english: str) -> str:
    post = words(language)
    if english in post.texts:
        return post.texts[english]
    made = (post._filled(p, english) for p in post.patterns)
    return next((m for m in made if m is not None), english)


@cache
def words(language: str) -> Post:
    """The words of a language; BadUsage when there are none of it."""
    said = texts(language, FOLDER)
    return Post(language, said, tuple(sorted((Pattern.of(t, _gap) for t in stored()), key=lambda p: (-p.firm, p.text))))


@cache
def stored() -> Sequence[str]:
    """Every sentence with gaps that may be met in the ledger, in English."""
    language = next(code for code in LANGUAGES if code != "en")
    with (FOLDER / f"{language}.po").open("rb") as f:
        return [str(m.id) for m in read_po(f) if m.context == STORED and GAP.search(str(m.id))]
