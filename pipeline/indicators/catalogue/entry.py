"""One entry of the catalogue of indicators."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Indicator:
    """What an indicator means.

    name       how figures and commands call it.
    title      how people read it.
    unit       of its value.
    formula    what is divided by what, in words.
    estimator  the published method, in a few words.
    source     where the method is published.
    limits     what the figure cannot say.
    """

    name: str
    title: str
    unit: str
    formula: str
    estimator: str
    source: str
    limits: str
