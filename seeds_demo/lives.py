"""The units put down, and what truly becomes of each: when it goes, when it tears, when it is empty."""

import datetime as dt
import math
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from seeds_demo.coast import SKERRYLIGHT, STORM_SORT, WHARFSIDE, Site
from seeds_demo.dice import Dice
from seeds_demo.tissue import batch_for

BAG, GRAVEL = "spore bag", "seeded gravel"
SHAPE = 1.1  # of the waiting time to being lost
SCALE = {"bolt": 900.0, "glue": 430.0, "tie": 270.0}  # days, before the site's own luck
STORM_AGE = 60  # days after the first planting
STORM_TAKES = {"bolt": 0.3, "glue": 0.6, "tie": 0.85}
SEEN_TO_GO = 90  # the trip on which one bag a site is seen to come off
RETENTION_DAYS = (21, 60, 150)
NEVER = 10**6


@dataclass(slots=True)
class Unit:
    """One tagged bag, or one untagged lot of stones. Ages are days since it was put down."""

    key: str
    plot: str
    method: str
    fixing: str
    pieces: int
    planting: int
    down_at: dt.datetime
    batch: str
    mass_kg: Decimal
    latitude: Decimal | None = None
    longitude: Decimal | None = None
    lost_at: int = NEVER
    torn_at: int = NEVER
    empty_at: int = NEVER
    by_storm: bool = False
    seen_to_go: bool = False

    @property
    def down_on(self) -> dt.date:
        """The day it was put down."""
        return self.down_at.date()


@dataclass(frozen=True)
class Luck:
    """A site's own luck with its bags: a factor on every waiting time."""

    factor: float
    storm: bool

    def attached(self, fixing: str, planting: int, age: int) -> float:
        """True chance that a bag of that fixing and planting is still attached at that age."""
        alone = math.exp(-((age / (SCALE[fixing] * self.factor)) ** SHAPE))
        struck = self.storm and planting == 1 and age >= STORM_AGE
        return alone * (1 - STORM_TAKES[fixing]) if struck else alone


def site_luck(seed: int, site: Site) -> Luck:
    """The site's luck, drawn once."""
    factor = round(math.exp(0.3 * Dice(seed, "luck", site.index).normal()), 4)
    return Luck(factor, site.sort == STORM_SORT)


def planted(site: Site) -> dict[int, int]:
    """How many units (bags and lots) of the site belong to each planting."""
    lots = max(2, site.units // 6)
    second = (site.units - lots) // 3 + lots // 3 if site.planted_again_on else 0
    return {1: site.units - second, 2: second}


def make_units(seed: int, site: Site, luck: Luck) -> list[Unit]:
    """Every unit of the site, first planting first, bags before lots."""
    dice = Dice(seed, "units", site.index)
    lots = max(2, site.units // 6)
    plan: list[tuple[int, str]] = []
    for method, number in ((BAG, site.units - lots), (GRAVEL, lots)):
        second = number // 3 if site.planted_again_on else 0
        plan += [(1, method)] * (number - second) + [(2, method)] * second
    plan.sort(key=lambda p: p[0])
    bags = [i for i, (_, method) in enumerate(plan) if method == BAG]
    fixings = dict(zip(bags, dice.mixed([("bolt", "glue", "tie")[i % 3] for i in range(len(bags))]), strict=True))
    units = [
        _unit(dice, site, nth, planting, method, fixings.get(nth, "none"))
        for nth, (planting, method) in enumerate(plan)
    ]
    for unit in units:
        if unit.method == BAG:
            _decide(dice, unit, luck)
    _show_one(units)
    return units


def _unit(dice: Dice, site: Site, nth: int, planting: int, method: str, fixing: str) -> Unit:
    day = site.planted_on if planting == 1 else site.planted_again_on or site.planted_on
    stone = method == GRAVEL
    unit = Unit(
        key=f"{site.key}-{'G' if stone else ''}{nth + 1:03d}",
        plot="T2" if stone else "T1",
        method=method,
        fixing=fixing,
        pieces=10 * dice.whole(2, 6) if stone else 1,
        planting=planting,
        down_at=dt.datetime.combine(day, dt.time(9, 30)) + dt.timedelta(minutes=2 * (nth % 60)),
        batch=batch_for(site, planting, nth),
        mass_kg=Decimal(dice.whole(80, 140) if stone else dice.whole(15, 30)) / 10,
    )
    if site.partner in (SKERRYLIGHT, WHARFSIDE):  # these two take a position for every unit
        unit.latitude = site.latitude + Decimal(dice.whole(-40, 40)) / 100000
        unit.longitude = site.longitude + Decimal(dice.whole(-50, 50)) / 100000
    return unit


def _decide(dice: Dice, unit: Unit, luck: Luck) -> None:
    unit.lost_at = max(1, math.ceil(dice.weibull(SCALE[unit.fixing] * luck.factor, SHAPE)))
    storm = dice.chance(STORM_TAKES[unit.fixing])
    if luck.storm and unit.planting == 1 and storm and unit.lost_at > STORM_AGE:
        unit.lost_at, unit.by_storm = STORM_AGE, True
    unit.torn_at = math.ceil(dice.weibull(500, 1.3))
    unit.empty_at = unit.torn_at + math.ceil(dice.weibull(200, 1.0))


def _show_one(units: Sequence[Unit]) -> None:
    """One bag a site goes before the divers' eyes: the first that would have gone shortly before that trip."""
    for unit in units:
        own = unit.planting == 1 and unit.method == BAG and not unit.by_storm
        if own and SEEN_TO_GO - 30 <= unit.lost_at <= SEEN_TO_GO:
            unit.lost_at, unit.seen_to_go = SEEN_TO_GO, True
            return


def true_retention(units: Sequence[Unit], luck: Luck) -> dict[str, dict[str, float]]:
    """Fraction of the site's bags attached at each of the programme's days: as drawn, and on average of all draws."""
    bags = [u for u in units if u.method == BAG]
    return {
        str(day): {
            "realised": round(sum(u.lost_at > day for u in bags) / len(bags), 6),
            "expected": round(math.fsum(luck.attached(u.fixing, u.planting, day) for u in bags) / len(bags), 6),
        }
        for day in RETENTION_DAYS
    }
