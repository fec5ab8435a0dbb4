"""A language of what people read: texts from gettext catalogues, numbers and days by locale (Unicode CLDR through Babel)."""

import datetime as dt
import math
import re
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import cache, lru_cache
from pathlib import Path

from pipeline.errors import BadUsage

LANGUAGES = ("en", "es", "pt", "fr", "nb")
GAP = re.compile(r"\{(\w+)\}")


@dataclass(frozen=True)
class Pattern:
    """A sentence with {gaps} of which stored English was made, and what finds it. firm: how many characters of it are no gap.

    Of several that fit, the firmest is the right one. held: its longest part without a gap, looked for first, since that is
    quicker than the expression.
    """

    text: str
    found: re.Pattern[str]
    firm: int
    held: str

    @classmethod
    def of(cls, text: str, gap: Callable[[str], str]) -> "Pattern":
        """The pattern of a sentence such as “looks that wait: {n}”. gap: the expression for what a gap of that name may hold."""
        parts = GAP.split(text)
        made = "".join(f"(?P<{p}>{gap(p)})" if n % 2 else re.escape(p) for n, p in enumerate(parts))
        return cls(text, re.compile(made, re.DOTALL), len("".join(parts[::2])), max(parts[::2], key=len))


@dataclass(frozen=True)
class Tongue:
    """One language. A text without a translation is told in English rather than left out."""

    language: str = "en"
    texts: dict[str, str] = field(default_factory=dict, repr=False)

    def __call__(self, text: str, **parts: object) -> str:
        """The text in this language, its {names} filled in."""
        found = self.texts.get(text, text)
        return found.format(**parts) if parts else found

    def day(self, day: dt.date | None) -> str:
        """A day as people of this language write it, "" for none."""
        return _day(self.language, day) if day else ""

    def month(self, day: dt.date) -> str:
        """The month of a day as people of this language write it."""
        return _month(self.language, day)

    def number(self, value: float, digits: int = 3) -> str:
        """Three significant digits, or as many as are asked for, never in powers of ten; whole numbers stay whole."""
        if value == 0 or not math.isfinite(value):
            return "0" if value == 0 else "–"
        shown = float(f"{value:.{digits}g}")
        decimals = max(0, digits - 1 - math.floor(math.log10(abs(shown))))
        pattern = "#,##0" + ("." + "#" * min(decimals, 8) if decimals else "")
        return _formatted(self.language, shown, pattern)

    def decimal(self, text: str) -> str:
        """A number told in digits with a point, all its digits, with this language's mark; ValueError for what is none."""
        if not _DIGITS.fullmatch(text):
            raise ValueError(text)
        return text.replace(".", _mark(self.language)) if "." in text else text

    def money(self, value: float) -> str:
        """A sum to the whole unit of its currency."""
        return _formatted(self.language, round(value), "#,##0")


LOCALES = {
    "en": "en_GB"
}  # whose days are 28 Nov 2026; of the other languages the plain locale's are short and have no mere numbers
_DIGITS = re.compile(r"-?\d+(\.\d+)?")


# babel is loaded when something is first written: every command asks which languages there are, few write
@lru_cache(maxsize=10_000)
def _day(language: str, day: dt.date) -> str:
    from babel.dates import format_date

    told = str(format_date(day, "medium", LOCALES.get(language, language)))
    return f"1er{told[1:]}" if language == "fr" and day.day == 1 else told


@lru_cache(maxsize=1_000)
def _month(language: str, day: dt.date) -> str:
    from babel.dates import format_skeleton

    return str(format_skeleton("yMMM", day, locale=LOCALES.get(language, language)))


@lru_cache(maxsize=100_000)  # the same few numbers stand on many pages
def _formatted(language: str, value: float, pattern: str) -> str:
    from babel.numbers import format_decimal

    return str(format_decimal(value, pattern, language))


@cache
def _mark(language: str) -> str:
    from babel.numbers import get_decimal_symbol

    return str(get_decimal_symbol(language))


@cache
def vocabulary(language: str) -> dict[str, str]:
    """What the words of our columns are called, as blank sheets of that language offer them; nothing for English."""
    return texts(language, Path(__file__).parent / "blanks" / "words")


@cache
def texts(language: str, folder: Path) -> dict[str, str]:
    """The texts of one language in a folder of catalogues (<code>.po), none for English; BadUsage when there are none of it."""
    if language not in LANGUAGES:
        raise BadUsage(f"Pages and letters are written in {', '.join(LANGUAGES)}; not in {language!r}.")
    if language == "en":
        return {}
    from babel.messages.pofile import read_po

    with (folder / f"{language}.po").open("rb") as f:
        catalogue = read_po(f, locale=language)
    return {str(m.id): str(m.string) for m in catalogue if m.id and m.string}
