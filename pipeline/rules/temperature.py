"""Rules on loggers and temperature: what is a full day, which limits count, and what is usual for the season."""

import csv
import io
from dataclasses import dataclass
from decimal import Decimal

from pipeline.errors import BadUsage
from pipeline.toml_read import Table

CALENDAR, METEOROLOGICAL = "calendar year", "meteorological"
DAYS = 366  # of a climatology: 29 February is day 60
MOST_DEGC = 60


@dataclass(frozen=True)
class TemperatureLimit:
    """A species' upper temperature, as the programme states it, and where it read it."""

    species: str
    degc: Decimal
    source: str


@dataclass(frozen=True)
class UsualYear:
    """A supplied climatology, in degC by day of the year: the seasonal mean and the 90th percentile.

    sites: where it holds; empty: everywhere.
    """

    source: str
    years: tuple[int, int]
    sites: tuple[str, ...]
    seasonal: tuple[Decimal, ...]
    threshold: tuple[Decimal, ...]


@dataclass(frozen=True)
class TemperatureRules:
    """What the programme says of temperatures. The defaults are common practice, without a source."""

    seasons: str = CALENDAR
    full_day_pct: Decimal = Decimal(80)
    least_degc: Decimal = Decimal(-2)
    most_degc: Decimal = Decimal(30)
    most_step_degc: Decimal = Decimal(5)
    limits: tuple[TemperatureLimit, ...] = ()
    usual: tuple[UsualYear, ...] = ()

    def usual_at(self, site: str) -> UsualYear | None:
        """The climatology that holds at a site: its own before one that holds everywhere."""
        return next((u for u in self.usual if site in u.sites), next((u for u in self.usual if not u.sites), None))


def parse(top: Table) -> TemperatureRules:
    """The tables [temperature], [[temperature_limit]] and [[climatology]] of programme.toml; BadUsage for what is no rule."""
    t = top.table("temperature", {})
    made = TemperatureRules(
        seasons=t.one_of("seasons", (CALENDAR, METEOROLOGICAL), CALENDAR),
        full_day_pct=t.decimal("full_day_pct", "80"),
        least_degc=t.decimal("least_degc", "-2"),
        most_degc=t.decimal("most_degc", "30"),
        most_step_degc=t.decimal("most_step_degc", "5"),
        limits=tuple(_limit(one) for one in top.tables("temperature_limit")),
        usual=tuple(_usual(one) for one in top.tables("climatology")),
    )
    t.refuse_unknown()
    if not 0 < made.full_day_pct <= 100:
        raise BadUsage(f"{t.where}: `full_day_pct` is {made.full_day_pct}; above 0 and up to 100 is wanted.")
    _refuse_doubles(made, top.where)
    return made


def _limit(t: Table) -> TemperatureLimit:
    made = TemperatureLimit(t.text("species"), t.decimal("degc"), t.text("source"))
    t.refuse_unknown()
    return made


def _usual(t: Table) -> UsualYear:
    seasonal, threshold = _curves(t.text("days"), t.where)
    made = UsualYear(
        t.text("source"),
        (t.whole("first_year"), t.whole("last_year")),
        tuple(t.texts("sites", [])),
        seasonal,
        threshold,
    )
    t.refuse_unknown()
    if made.years[1] < made.years[0]:
        raise BadUsage(f"{t.where}: `last_year` {made.years[1]} lies before `first_year` {made.years[0]}.")
    return made


def _curves(text: str, where: str) -> tuple[tuple[Decimal, ...], tuple[Decimal, ...]]:
    """Both curves from the pasted table of days."""
    found: dict[int, tuple[Decimal, Decimal]] = {}
    lines = csv.reader(io.StringIO(text.strip()))
    if next(lines, []) != ["day", "seasonal", "threshold"]:
        raise BadUsage(f"{where}: `days` begins with the line day,seasonal,threshold.")
    for cells in lines:
        try:
            day, seasonal, threshold = int(cells[0]), Decimal(cells[1]), Decimal(cells[2])
        except (ValueError, IndexError, ArithmeticError):
            raise BadUsage(f"{where}: `days` has the line {','.join(cells)!r}; three numbers are wanted.") from None
        if not (1 <= day <= DAYS and day not in found and -MOST_DEGC < seasonal < threshold < MOST_DEGC):
            raise BadUsage(
                f"{where}: `days` has the line {','.join(cells)!r}; a day from 1 to {DAYS} that stands once, and a threshold "
                "above the seasonal mean, both in degC, are wanted."
            )
        found[day] = seasonal, threshold
    if len(found) != DAYS:
        raise BadUsage(f"{where}: `days` has {len(found)} days; {DAYS} are wanted, 29 February being day 60.")
    seasonal_, threshold_ = zip(*(found[n] for n in range(1, DAYS + 1)), strict=True)
    return tuple(seasonal_), tuple(threshold_)


def _refuse_doubles(rules: TemperatureRules, where: str) -> None:
    """Two limits of one degree for one species, or two climatologies of one place, would be two figures of one name."""
    limits = [f"{limit.species}, {limit.degc.normalize():f}" for limit in rules.limits]
    places = [site for u in rules.usual for site in u.sites or ("everywhere",)]
    for what, keys in (("[[temperature_limit]] species and degc", limits), ("[[climatology]] place", places)):
        doubles = sorted({k for k in keys if keys.count(k) > 1})
        if doubles:
            raise BadUsage(f"{where}: {what} {doubles[0]} stands twice. Take one away.")
