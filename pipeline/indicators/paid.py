"""What was paid, in one currency, at the prices of its day or of a base year; numbers in, hundredths out."""

import datetime as dt
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from fractions import Fraction
from typing import NamedTuple

FORMS = ("cash", "in kind", "hours")
DAYS_OF_YEAR = Fraction(1461, 4)


class Paid(NamedTuple):
    """Money or hours in hundredths, of costs that are alike: for one site, shared by a key, or parted over sites.

    per_unit    units of the currency for one of the programme's; None for hours.
    method      of the unit that it was for, None where it was for no single unit.
    bought_on, life_years  of things that last; their cost is spread over their life.
    costs       how many they are; of them unnamed: nobody says who bore it; taxed, untaxed: said to hold tax, or none;
                lifeless: capital of which nobody says how long it lasts.
    parted      for a cutting's cost, how many of its units went to each site.
    """

    site: str | None
    share_key: str | None
    form: str
    currency: str | None
    per_unit: Decimal | None
    rate_dated: dt.date | None
    category: str
    phase: str
    payer: str
    method: str | None
    year: int
    month: int
    bought_on: dt.date | None
    life_years: Decimal | None
    hundredths: int
    costs: int = 1
    unnamed: int = 0
    taxed: int = 0
    untaxed: int = 0
    lifeless: int = 0
    parted: tuple[tuple[str, int], ...] = ()


class Area(NamedTuple):
    """A site's planted units and treated area."""

    site: str
    units: int
    area_m2: Decimal


class PutDown(NamedTuple):
    """Things of one method put down at a site, the pieces they were, and how many were lots without tags."""

    site: str
    method: str
    units: int
    pieces: int
    lots: int


class Planned(NamedTuple):
    """What was planned to be paid, in hundredths."""

    form: str
    currency: str | None
    per_unit: Decimal | None
    rate_dated: dt.date | None
    hundredths: int
    costs: int


@dataclass(frozen=True)
class Prices:
    """What is needed to tell costs in the prices of one year.

    index  by currency, year and month (0 for a whole year); base: its mean over the base year, by currency.
    rate   the mean rate of the base year, units of the currency for one of the programme's.
    told   where index and rates come from, in words.
    """

    base_year: int
    index: Mapping[tuple[str, int, int], Decimal]
    base: Mapping[str, Fraction]
    rate: Mapping[str, Fraction]
    told: str


@dataclass(frozen=True)
class Books:
    """Everything that was paid until a day, and what it is set against.

    waiting     costs that wait for a place or a rate, and so are in no figure.
    idle_units  units that wait or are in dispute: they have no area and carry no shared cost.
    published   currencies whose rates are published ones, and who publishes them.
    """

    paid: tuple[Paid, ...]
    areas: Mapping[str, Area]
    put_down: tuple[PutDown, ...]
    planned: tuple[Planned, ...]
    currency: str
    as_of: dt.date
    waiting: int = 0
    idle_units: int = 0
    published: tuple[tuple[str, ...], str] = ((), "")
    monitoring: tuple[str, ...] = ()
    trial_below_m2: Decimal = Decimal(0)
    prices: Prices | None = None
    hour_value: tuple[Decimal, dt.date, str] | None = field(default=None)


class Amount(NamedTuple):
    """A cost, and what of it counts so far in hundredths of the programme's currency (or of an hour)."""

    paid: Paid
    cents: int


def amounts(books: Books, form: str) -> list[Amount]:
    """The costs of a form as they were paid, in the programme's currency, rounded half to even."""
    return [Amount(p, in_currency(counted(p, books.as_of), p.per_unit)) for p in books.paid if p.form == form]


def in_currency(hundredths: Fraction | int, per_unit: Decimal | None) -> int:
    """Hundredths of the programme's currency (or of an hour), rounded half to even."""
    return round(Fraction(hundredths) / Fraction(per_unit or 1))


def counted(p: Paid, as_of: dt.date) -> Fraction:
    """Hundredths that count by that day: all of it; of a thing that lasts, its life's days so far in a straight line."""
    if p.bought_on is None or p.life_years is None:
        return Fraction(p.hundredths)
    lived = Fraction((as_of - p.bought_on).days) / (Fraction(p.life_years) * DAYS_OF_YEAR)
    return p.hundredths * min(Fraction(1), max(Fraction(0), lived))


def at_base(books: Books, prices: Prices, form: str) -> tuple[list[Amount], list[str]]:
    """The costs of a form in the prices of the base year, and what is missing for that, in words.

    In the currency each was paid in, times its index of the base year over that of its month or year; then changed at
    the base year's mean rate. Changing first and deflating after gives another figure.
    """
    told, missing = [], set()
    for p in books.paid:
        if p.form != form:
            continue
        currency = p.currency or ""
        index = prices.index.get((currency, p.year, p.month)) or prices.index.get((currency, p.year, 0))
        base, rate = prices.base.get(currency), prices.rate.get(currency)
        if index is None:
            missing.add(f"no price index of {currency} for {p.year}")
        elif base is None:
            missing.add(f"no price index of {currency} for {prices.base_year}")
        elif rate is None:
            missing.add(f"no rate of {currency} in {prices.base_year}")
        else:
            told.append(Amount(p, round(counted(p, books.as_of) * base / Fraction(index) / rate)))
    return told, sorted(missing)


def originals(paid: Iterable[Paid]) -> str:
    """What was paid in each currency as it was paid: `300.00 EUR and 12000.00 NOK`."""
    sums: dict[str, int] = {}
    for p in paid:
        what = p.currency or "hours"
        sums[what] = sums.get(what, 0) + p.hundredths
    return " and ".join(f"{n / 100:.2f} {what}" for what, n in sorted(sums.items()))
