"""How many plants there truly are to a square metre, by plot, stage and day; and what a frame then holds."""

import math
from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal

from seeds_demo.coast import OARWEED, SUGAR, WHARFSIDE, Plot, Site
from seeds_demo.dice import Dice
from seeds_demo.seasons import Look

STAGES = ("recruit", "juvenile", "sub-canopy", "canopy")
TARGETS = (*((SUGAR, stage) for stage in STAGES), (OARWEED, "canopy"))
NEAR_TARGETS = TARGETS[:2]
LENGTHS_CM = {"recruit": (1, 14), "juvenile": (15, 59), "sub-canopy": (60, 119), "canopy": (120, 240)}
SPREAD_K = {"recruit": 0.9, "juvenile": 1.2, "sub-canopy": 1.5, "canopy": 2.0}  # negative binomial, of counts in frames
FRAMES = {"treated": 6, "control": 8, "reference": 8}  # to a plot and survey

QUADRATS, NEAR_UNITS = "quadrats", "near-units"
NEAR_SINCE = 150  # the survey on which the laboratory also lays frames at units
OTHERS_AREA = Decimal("0.25")
FEET_AREA = Decimal("0.250838")  # 2.7 square feet

_DAYS = (-20, 150, 330, 510, 700, 880, 1060)
_TREATED = {
    "recruit": (0.25, 4.2, 2.3, 4.8, 2.5, 2.1, 1.6),
    "juvenile": (0.10, 0.5, 1.9, 1.6, 2.3, 1.7, 1.4),
    "sub-canopy": (0.05, 0.1, 0.7, 1.3, 1.6, 1.7, 1.5),
    "canopy": (0.05, 0.05, 0.2, 0.9, 1.4, 1.8, 2.0),
}
_CONTROL = {"recruit": 0.45, "juvenile": 0.25, "sub-canopy": 0.15, "canopy": 0.12}
_REFERENCE = {"recruit": 1.0, "juvenile": 1.3, "sub-canopy": 1.6, "canopy": 3.4}
_OARWEED = {"treated": 0.1, "control": 0.1, "reference": 2.2}
_PLOT_FACTOR = {"T1": 1.1, "T2": 0.9}


@dataclass(frozen=True)
class Frame:
    """One searched frame: counts by (species, stage), every stage of the protocol told."""

    look: Look
    plot: str
    key: str
    protocol: str
    area_m2: Decimal
    counts: dict[tuple[str, str], int]
    lengths_cm: dict[tuple[str, str], tuple[int, ...]]


def site_growth(seed: int, site: Site) -> float:
    """How good the site is for kelp: a factor on every density of sugar kelp."""
    return round(math.exp(0.4 * Dice(seed, "growth", site.index).normal() - 0.08), 4)


def density(growth: float, plot: Plot, species: str, stage: str, since: int) -> float:
    """True mean per m2 of a plot on a survey, to three places: the number that frames are drawn from."""
    if species == OARWEED:
        return _OARWEED[plot.kind]
    at = _DAYS.index(since)
    if plot.kind == "reference":
        return _REFERENCE[stage]
    mean = _TREATED[stage][at] if plot.kind == "treated" else _CONTROL[stage]
    return round(growth * mean * _PLOT_FACTOR.get(plot.key, 1.0), 3)


def frames(seed: int, site: Site, growth: float, look: Look) -> Iterator[Frame]:
    """Every frame of one survey dive: treated plots on its first, control and reference plots on its second."""
    dice = Dice(seed, "frames", site.index, look.since, look.controls)
    area = FEET_AREA if site.partner == WHARFSIDE else OTHERS_AREA
    nth = 0
    for plot in site.plots:
        if (plot.kind != "treated") != look.controls:
            continue
        for _ in range(FRAMES[plot.kind]):
            nth += 1
            yield _frame(dice, look, plot, str(nth), QUADRATS, area, growth, 1.0)
    if site.partner == "fulmar-lab" and look.since == NEAR_SINCE and not look.controls:
        for _ in range(6):
            nth += 1
            yield _frame(dice, look, site.plots[0], str(nth), NEAR_UNITS, area, growth, 3.0)


def _frame(
    dice: Dice, look: Look, plot: Plot, key: str, protocol: str, area: Decimal, growth: float, factor: float
) -> Frame:
    counts, lengths = {}, {}
    for species, stage in TARGETS if protocol == QUADRATS else NEAR_TARGETS:
        mean = density(growth, plot, species, stage, look.since) * float(area) * factor
        counts[species, stage] = dice.negative_binomial(mean, SPREAD_K[stage])
        low, high = LENGTHS_CM[stage]
        lengths[species, stage] = tuple(dice.whole(low, high) for _ in range(counts[species, stage]))
    return Frame(look, plot.key, key, protocol, area, counts, lengths)


def true_densities(site: Site, growth: float, look: Look) -> Iterator[tuple[str, str, str, float]]:
    """(kind of plot, species, stage, true mean per m2) of the plots that one survey dive counts."""
    kinds: dict[str, list[Plot]] = {}
    for plot in site.plots:
        if (plot.kind != "treated") == look.controls:
            kinds.setdefault(plot.kind, []).append(plot)
    for kind, plots in kinds.items():
        for species, stage in TARGETS:
            mean = math.fsum(density(growth, p, species, stage, look.since) for p in plots) / len(plots)
            yield kind, species, stage, round(mean, 6)
