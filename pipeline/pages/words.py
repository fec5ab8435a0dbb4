"""The language of pages: a tongue that also tells estimates and their intervals."""

from dataclasses import dataclass
from functools import cache
from pathlib import Path

from pipeline.indicators.estimate import Estimate
from pipeline.tongue import LANGUAGES, Tongue, texts

__all__ = ["FOLDER", "LANGUAGES", "Words", "words"]

FOLDER = Path(__file__).parent / "words"


@dataclass(frozen=True)
class Words(Tongue):
    """One language of the pages."""

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
        """A unit as printed. One that names its currency is put together: EUR per hectare."""
        plain = unit.replace("m²", "m2")
        what, per, of = plain.partition(" per ")
        told = self(plain)
        if plain == "fraction":
            return ""
        if told == plain and per:
            told = self("{what} per {of}", what=self(what), of=self(of))
        return told.replace("m2", "m²").replace("degC", "°C")


@cache
def words(language: str) -> Words:
    """The words of a language; BadUsage when there are none of it."""
    return Words(language, texts(language, FOLDER))
