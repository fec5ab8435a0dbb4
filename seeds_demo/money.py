"""What it cost: bills, gifts in kind and hours; and what each site truly cost, worked out apart from the pipeline."""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterator, Mapping
from decimal import Decimal
from fractions import Fraction
from typing import Any

from seeds_demo.coast import ULVETANGEN, WHARFSIDE, Site
from seeds_demo.dice import Dice
from seeds_demo.diving import Told
from seeds_demo.tissue import Cutting

Values = dict[str, Any]

FORMS = ("cash", "in kind", "hours")
CURRENCY = {ULVETANGEN: "NOK", WHARFSIDE: "USD"}  # the others pay in EUR
RATES = {
    "NOK": ((dt.date(2022, 1, 1), "10.05"), (dt.date(2023, 1, 1), "11.20"), (dt.date(2024, 1, 1), "11.65")),
    "USD": ((dt.date(2022, 1, 1), "1.06"), (dt.date(2023, 1, 1), "1.08"), (dt.date(2024, 1, 1), "1.09")),
}  # units of it for one EUR, invented
PRICES = {
    "EUR": ((2022, "108.4"), (2023, "114.1"), (2024, "116.9"), (2025, "119.2")),
    "NOK": ((2022, "105.9"), (2023, "112.0"), (2024, "115.6"), (2025, "118.3")),
    "USD": ((2022, "109.3"), (2023, "113.8"), (2024, "117.2"), (2025, "120.4")),
}  # how dear things were, invented
_DEARNESS = {"NOK": 11, "USD": 1, "EUR": 1}

# Shared costs of the agency, a year: (month, category, phase, form, sharing key, about how much for six sites).
_POOLS = (
    (1, "permits and notices", "plan and permit", "cash", "equal", 1800),
    (2, "bags, cotton and bolts", "prepare", "cash", "units", 5200),
    (4, "insurance of the works", "overhead", "cash", "area", 2400),
    (6, "coordinator", "overhead", "cash", "hours", 7600),
    (9, "cool room lent by the harbour", "culture", "in kind", "units", 900),
    (11, "evenings of planning", "overhead", "hours", "equal", 96),
)


def amount(cents: int) -> Decimal:
    """Hundredths as money or hours."""
    return (Decimal(cents) / 100).quantize(Decimal("0.01"))


def site_costs(seed: int, told: Told) -> Iterator[tuple[dt.date, Values]]:
    """The keeper's own costs: boats for dives, hours of divers, planting, one replaced bag; (day, row)."""
    site, dice = told.site, Dice(seed, "money", told.site.index)
    currency = CURRENCY.get(site.partner, "EUR")
    dear = _DEARNESS[currency]

    def paid(day: dt.date, cents: int, category: str, phase: str, kind: str, key: str, form: str = "cash") -> Any:
        return day, {
            "happened": day, "form": form, "amount": amount(cents if form == "hours" else cents * dear),
            "currency": None if form == "hours" else currency, "category": category, "phase": phase, "for_kind": kind,
            "for_key": key, "valued_by": "treasurer, by hire rates" if form == "in kind" else None,
            "people": 3 if form == "hours" else None,
        }  # fmt: skip

    for look in told.looks:
        if look.controls:
            continue
        yield paid(look.day, dice.whole(4000, 12000), "boat fuel", "monitor", "visit", look.visit_key)
        hours = 25 * dice.whole(16, 48) if look.found else 25 * dice.whole(6, 12)
        yield paid(look.day, hours, "divers", "monitor", "visit", look.visit_key, "hours")
    yield paid(site.planted_on, dice.whole(60000, 140000), "boat hire", "deploy", "site", site.key)
    yield paid(site.planted_on, dice.whole(30000, 50000), "skipper and crane", "deploy", "site", site.key, "in kind")
    yield paid(site.planted_on, 100 * dice.whole(40, 90), "planting crew", "deploy", "site", site.key, "hours")
    if site.planted_again_on:
        yield paid(site.planted_again_on, dice.whole(40000, 90000), "boat hire", "deploy", "site", site.key)
    for row in told.treatments:
        key = f"{site.key} | {row['plot_key']}"
        yield paid(row["happened"], 100 * dice.whole(6, 24), "grazer work", "prepare", "plot", key, "hours")
    unit = told.units[dice.whole(0, len(told.units) - 1)]
    yield paid(unit.down_on, dice.whole(1500, 3500), "new fixing plate", "deploy", "deployment", unit.key)


def cutting_cost(seed: int, cut: Cutting) -> Values:
    """What the laboratory paid for a cutting, to be parted over the sites its tissue went to."""
    cents = 100 * Dice(seed, "cutting", cut.batch).whole(180, 420)
    return {
        "happened": cut.day, "form": "cash", "amount": amount(cents), "currency": "EUR", "category": "cutting trip",
        "phase": "collect", "for_kind": "collection", "for_key": cut.batch,
    }  # fmt: skip


def agency_cost(seed: int, site: Site) -> Values:
    """What the agency paid for one site alone."""
    cents = 100 * Dice(seed, "agency", site.index).whole(1050, 1900)
    return {
        "record_key": f"CW-{site.key}-1", "happened": site.planted_on, "form": "cash", "amount": amount(cents),
        "currency": "EUR", "category": "mark buoys and bolts", "phase": "prepare", "for_kind": "site", "for_key": site.key,
    }  # fmt: skip


def pools(seed: int, sites: int) -> Iterator[tuple[dt.date, Values]]:
    """The agency's shared costs, three years of them; they grow with the number of sites."""
    for year in (2022, 2023, 2024):
        dice = Dice(seed, "pools", year)
        for month, category, phase, form, key, about in _POOLS:
            day = dt.date(year, month, 15)
            cents = about * sites // 6 * dice.whole(85, 115)
            yield day, {
                "record_key": f"CW-{year}-{month:02d}", "happened": day, "form": form, "amount": amount(cents),
                "currency": None if form == "hours" else "EUR", "category": category, "phase": phase, "share_key": key,
                "valued_by": "harbour office" if form == "in kind" else None,
            }  # fmt: skip


def in_euro(row: Values) -> Fraction:
    """A row's money in EUR by the rate of its day; hours as they are."""
    value = Fraction(row["amount"])
    rates = [rate for day, rate in RATES.get(row.get("currency") or "", ()) if day <= row["happened"]]
    return value / Fraction(rates[-1]) if rates else value


class Books:
    """Every cost by site, form and sharing key, as exact fractions: small enough for any number of sites."""

    def __init__(self) -> None:
        self.direct: dict[tuple[str, str], Fraction] = defaultdict(Fraction)
        self.pools: dict[tuple[str, str], Fraction] = defaultdict(Fraction)
        self.weights: dict[str, dict[str, Fraction]] = {"units": {}, "area": {}, "equal": {}}

    def add_site(self, site: Site) -> None:
        """A planted site and what its shares go by."""
        self.weights["units"][site.key] = Fraction(site.units)
        self.weights["area"][site.key] = Fraction(site.treated_area_m2())
        self.weights["equal"][site.key] = Fraction(1)

    def add_direct(self, site: str, row: Values) -> None:
        """A cost that was for one site."""
        self.direct[site, row["form"]] += in_euro(row)

    def add_cutting(self, row: Values, units: Mapping[str, int]) -> None:
        """A cutting's cost, by the units that went to each site."""
        total = sum(units.values())
        for site, share in units.items():
            self.direct[site, row["form"]] += in_euro(row) * share / total

    def add_pool(self, row: Values) -> None:
        """A shared cost."""
        self.pools[row["share_key"], row["form"]] += in_euro(row)

    def totals(self) -> dict[str, dict[str, float]]:
        """What each site truly cost, in EUR and in hours, shared costs parted by their key."""
        hours = {site: self.direct[site, "hours"] for site in self.weights["equal"]}
        weights = {**self.weights, "hours": hours}
        wholes = {key: sum(parts.values(), Fraction(0)) for key, parts in weights.items()}
        told: dict[str, dict[str, float]] = {}
        for site in sorted(self.weights["equal"]):
            told[site] = {}
            for form in FORMS:
                shares = [
                    pool * weights[key][site] / wholes[key]
                    for (key, pooled), pool in self.pools.items()
                    if pooled == form and wholes[key]
                ]
                told[site][form] = round(float(self.direct[site, form] + sum(shares, Fraction(0))), 2)
        return told
