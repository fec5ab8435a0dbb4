"""Rules of costs: what is monitoring, the prices of which year, published rates, what an hour is worth."""

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass, field
from decimal import Decimal

from pipeline.errors import BadUsage
from pipeline.rules.published import Published, parse_published
from pipeline.toml_read import Table

# The model's own phases (a test holds the two together).
PHASES = ("plan and permit", "collect", "culture", "prepare", "deploy", "monitor", "report", "overhead", "capital")


@dataclass(frozen=True)
class PriceIndex:
    """How dear things were in a currency's country in a month, or in a whole year (month 0), with its source."""

    currency: str
    year: int
    month: int
    value: Decimal
    source: str


@dataclass(frozen=True)
class HourValue:
    """What an hour given is worth in the programme's currency, since which day, and who says so."""

    per_hour: Decimal
    dated: dt.date
    source: str


@dataclass(frozen=True)
class CostRules:
    """The programme's rules of costs.

    monitoring_phases  left out where costs are told without monitoring and research.
    base_year          in whose prices costs are told too; 0 for none.
    """

    monitoring_phases: tuple[str, ...] = ("monitor", "report")
    base_year: int = 0
    indexes: tuple[PriceIndex, ...] = ()
    published: Published = field(default_factory=Published)
    hour_value: HourValue | None = None


def parse(top: Table, own: str) -> CostRules:
    """From the programme's TOML; BadUsage names the table that is wrong. own: the programme's currency."""
    costs, hour = top.table("costs", {}), top.table("hour_value", {})
    value = None
    if hour.data:
        value = HourValue(hour.decimal("per_hour"), hour.day("dated"), hour.text("source"))
    made = CostRules(
        monitoring_phases=tuple(costs.some_of("monitoring_phases", PHASES)) if "monitoring_phases" in costs.data else CostRules.monitoring_phases,
        base_year=costs.whole("base_year", 0),
        indexes=tuple(_index(t) for t in top.tables("price_index")),
        published=parse_published(top, own),
        hour_value=value,
    )  # fmt: skip
    costs.refuse_unknown()
    hour.refuse_unknown()
    _refuse_doubles(made.indexes, top.where)
    return made


def _index(t: Table) -> PriceIndex:
    made = PriceIndex(t.text("currency"), t.whole("year"), t.whole("month", 0), t.decimal("value"), t.text("source"))
    if made.value <= 0 or made.month > 12:
        raise BadUsage(f"{t.where}: a `value` above 0 and a `month` from 1 to 12 (none for a whole year) are wanted.")
    t.refuse_unknown()
    return made


def _refuse_doubles(indexes: Iterable[PriceIndex], where: str) -> None:
    """One value a month, and months or whole years of a currency, not both: they would not be one index."""
    met: set[tuple[str, int, int]] = set()
    monthly: dict[str, bool] = {}
    for i in indexes:
        if (i.currency, i.year, i.month) in met:
            raise BadUsage(f"{where}: [[price_index]] of {i.currency} stands twice for {i.year} {i.month or ''}.")
        met.add((i.currency, i.year, i.month))
        if monthly.setdefault(i.currency, i.month > 0) != (i.month > 0):
            raise BadUsage(f"{where}: [[price_index]] of {i.currency} has months and whole years. Keep one sort.")


def refuse_listed(rules: CostRules, listed: Iterable[str], where: str) -> None:
    """BadUsage when a currency has both published rates and rates of the programme's own."""
    for both in sorted({*listed} & {*rules.published.currencies}):
        raise BadUsage(f"{where}: {both} stands in [rates] and in [[rate]]. Take one of them away.")
