"""The invented coast: its sites and plots, and who looks after which.

No such coast exists: positions lie in the open ocean, the country code XZ means the high seas, and every name
is made up. Six sites repeat: a larger programme has more sites of the same six sorts.
"""

import datetime as dt
from dataclasses import dataclass
from decimal import Decimal

from seeds_demo.dice import Dice

SUGAR, OARWEED = "Saccharina latissima", "Laminaria hyperborea"
UNITS_A_SITE = 65
SORTS = 6

SKERRYLIGHT, PONTA_PARDA, ULVETANGEN = "skerrylight", "ponta-parda", "ulvetangen"
FULMAR_LAB, WHARFSIDE, COASTWORKS = "fulmar-lab", "wharfside", "coastworks"

# One sort of site a partner, in this order; the charity looks after two.
KEEPERS = (SKERRYLIGHT, PONTA_PARDA, ULVETANGEN, FULMAR_LAB, WHARFSIDE, SKERRYLIGHT)
REFERENCE_SORT = 0  # has a reference forest plot
STORM_SORT = 1  # a storm takes many bags
BARE_CONTROL_SORT = 3  # grazers are removed from its treated plots only
UNFOUND_SORT = 4  # not found for the whole of one year

DATUMLESS, LATE = 2, 5  # of the first six: the site without a datum; the one whose registers come late

_NAMED = (
    ("HN", "Hollow Ness"),
    ("CS", "Candle Skerry"),
    ("TH", "Tarn Hatch"),
    ("MS", "Mussel Stair"),
    ("BL", "Bellwether Ledge"),
    ("LQ", "Long Quiet"),
)
_FIRST = ("Amber", "Brine", "Cinder", "Drift", "Ember", "Fathom", "Gannet", "Harrow", "Inkwell", "Lantern")
_SECOND = ("Ness", "Skerry", "Hatch", "Stair", "Ledge", "Quiet", "Rake", "Sound", "Tooth", "Wick")


@dataclass(frozen=True)
class Plot:
    """A plot of a site."""

    key: str
    kind: str
    area_m2: Decimal


@dataclass(frozen=True)
class Site:
    """A site: `index` counts from 0, `sort` repeats every six."""

    index: int
    key: str
    name: str
    partner: str
    latitude: Decimal
    longitude: Decimal
    planted_on: dt.date
    planted_again_on: dt.date | None
    plots: tuple[Plot, ...]
    units: int

    @property
    def sort(self) -> int:
        """Which of the six sorts it is."""
        return self.index % SORTS

    @property
    def pair(self) -> int:
        """The pair of sites that shares the second year's batches."""
        return self.index // 2

    def treated_area_m2(self) -> Decimal:
        """Area of its planted plots."""
        return sum((p.area_m2 for p in self.plots if p.kind == "treated"), Decimal(0))


def site_count(units: int) -> int:
    """How many sites a programme of so many units has: at least the six of the story."""
    return max(SORTS, units // UNITS_A_SITE)


def make_site(seed: int, index: int, units: int) -> Site:
    """The site of that number in a programme of so many units."""
    sites = site_count(units)
    dice = Dice(seed, "site", index)
    sort, group = index % SORTS, (index // SORTS) % 20
    key, name = _NAMED[index] if index < SORTS else (f"S{index:05d}", f"{_name(index)} {index}")
    again = dt.date(2023, 3, 13) + dt.timedelta(days=6 * (index // 2 % 3) + index % 2 + group)
    return Site(
        index=index,
        key=key,
        name=name,
        partner=KEEPERS[sort],
        latitude=Decimal("44.20000") + Decimal("0.03") * (index % 100) + Decimal(dice.whole(0, 900)) / 100000,
        longitude=Decimal("-27.80000") + Decimal("0.04") * (index // 100) + Decimal(dice.whole(0, 900)) / 100000,
        planted_on=dt.date(2022, 3, 14) + dt.timedelta(days=5 * sort + group),
        planted_again_on=None if sort == UNFOUND_SORT else again,
        plots=_plots(dice, sort),
        units=units // sites + (index < units % sites),
    )


def _name(index: int) -> str:
    return f"{_FIRST[index % len(_FIRST)]} {_SECOND[index // len(_FIRST) % len(_SECOND)]}"


def _plots(dice: Dice, sort: int) -> tuple[Plot, ...]:
    """Bags go to T1, gravel to T2; C1 is left alone; R1 is natural forest."""
    plots = [
        Plot("T1", "treated", Decimal(10 * dice.whole(8, 14))),
        Plot("T2", "treated", Decimal(10 * dice.whole(5, 9))),
        Plot("C1", "control", Decimal(10 * dice.whole(8, 14))),
    ]
    if sort == REFERENCE_SORT:
        plots.append(Plot("R1", "reference", Decimal(120)))
    return tuple(plots)
