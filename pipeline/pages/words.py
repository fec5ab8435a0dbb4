"""The language of pages: texts from gettext catalogues, numbers and days by locale (Unicode CLDR through Babel)."""

import datetime as dt
import math
from dataclasses import dataclass, field
from functools import cache, lru_cache
from pathlib import Path

from babel import Locale
from babel.dates import format_date
from babel.messages.pofile import read_po
from babel.numbers import format_decimal

from pipeline.errors import BadUsage
from pipeline.indicators.estimate import Estimate

LANGUAGES = ("en", "es", "pt", "fr", "nb")
FOLDER = Path(__file__).parent / "words"


@dataclass(frozen=True)
class Words:
    """One language. A text without a translation is told in English rather than left out."""

    language: str = "en"
    texts: dict[str, str] = field(default_factory=dict, repr=False)

    def __call__(self, text: str, **parts: object) -> str:
        """The text in this language, its {names} filled in."""
        found = self.texts.get(text, text)
        return found.format(**parts) if parts else found

    def day(self, day: dt.date | None) -> str:
        """A day as people of this language write it, "" for none."""
        return format_date(day, "d MMM y", Locale.parse(self.language)) if day else ""

    def number(self, value: float, digits: int = 3) -> str:
        """Three significant digits, or as many as are asked for, never in powers of ten; whole numbers stay whole."""
        if value == 0 or not math.isfinite(value):
            return "0" if value == 0 else "–"
        shown = float(f"{value:.{digits}g}")
        decimals = max(0, digits - 1 - math.floor(math.log10(abs(shown))))
        pattern = "#,##0" + ("." + "#" * min(decimals, 8) if decimals else "")
        return _formatted(self.language, shown, pattern)

    def money(self, value: float) -> str:
        """A sum to the whole unit of its currency."""
        return _formatted(self.language, round(value), "#,##0")

    def of(self, value: float, unit: str) -> str:
        """A value of that unit without the unit: fractions in per cent."""
        return self.number(100 * value, 2 if value < 0.995 else 3) + " %" if unit == "fraction" else self.number(value)

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

    def span(self, low: float, high: float, unit: str) -> str:
        """From one value to another."""
        if unit == "fraction":
            return self("{low} to {high}", low=self.number(100 * low, 2), high=self.of(high, unit))
        return self("{low} to {high}", low=self.of(low, unit), high=self.of(high, unit))

    def unit(self, unit: str) -> str:
        """A unit as printed."""
        return "" if unit == "fraction" else unit.replace("m2", "m²").replace("degC", "°C")


@lru_cache(maxsize=100_000)  # the same few numbers stand on many pages
def _formatted(language: str, value: float, pattern: str) -> str:
    return str(format_decimal(value, pattern, Locale.parse(language)))


@cache
def words(language: str) -> Words:
    """The words of a language; BadUsage when there are none of it."""
    if language not in LANGUAGES:
        raise BadUsage(f"Pages are written in {', '.join(LANGUAGES)}; not in {language!r}.")
    if language == "en":
        return Words()
    with (FOLDER / f"{language}.po").open("rb") as f:
        catalogue = read_po(f, locale=language)
    return Words(language, {str(m.id): str(m.string) for m in catalogue if m.id and m.string})
