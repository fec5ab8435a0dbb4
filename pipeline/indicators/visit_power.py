"""How often two fixings would be told apart, by simulation with a plan of visits: losses are only known between visits."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from .sample_size import Z
from .told_apart import scores
from .turnbull import Floats, fit

SEED, RUNS = 1981, 200  # 200 runs know a chance near 0.8 to within 0.06
MOST_UNITS = 2_000  # in both groups together: bounds what a run costs
ROUGH = 1e-3  # log-likelihood that the curve of a run may fall short of


@dataclass(frozen=True)
class Plan:
    """Visits at these days after planting, each missed at a site with that chance; units spread evenly over so many sites."""

    days: tuple[int, ...]
    missed: float
    sites: int


def power_by_visits(one: float, other: float, by_day: int, units: int, plan: Plan, runs: int = RUNS) -> float:
    """The share of simulated comparisons, 0..1, that tell two groups of `units` apart at 5 %.

    one, other: shares still attached on `by_day`; losses come at a steady rate. Groups are mixed within sites and
    compared by the Wilcoxon-type score of Fay & Shaw 2010, J. Stat. Softw. 36(2), with its permutation variance.
    Always the same for the same plan. Raises ValueError for more than MOST_UNITS or fewer than 2 units, or a share not
    between 0 and 1.
    """
    if not (0 < one < 1 and 0 < other < 1 and 2 <= 2 * units <= MOST_UNITS):
        raise ValueError(f"nothing to simulate: shares {one} and {other}, {units} units a group")
    dice = np.random.default_rng(SEED)
    group = np.repeat([0, 1], units)
    life = -by_day / np.log(np.where(group == 0, one, other))  # mean days until lost
    site = np.concatenate([np.arange(units), np.arange(units)]) % plan.sites
    found = 0
    for _ in range(runs):
        left, right = _between_visits(dice.exponential(life), site, dice.random((plan.sites, len(plan.days))), plan)
        found += abs(_score(left, right, group)) > Z
    return found / runs


def _between_visits(
    lost: Floats, site: "np.typing.NDArray[np.int64]", luck: Floats, plan: Plan
) -> tuple[Floats, Floats]:
    """The last visit before each loss, and the first after it; inf where there is none."""
    made = (luck >= plan.missed)[site]
    days = np.array(plan.days, float)
    before = made & (days < lost[:, None])
    after = made & (days >= lost[:, None])
    return np.where(before, days, 0.0).max(1), np.where(after, days, math.inf).min(1)


def _score(left: Floats, right: Floats, group: "np.typing.NDArray[np.int64]") -> float:
    """How far the second group's losses come early, in standard errors; 0 where every unit tells the same."""
    curve = fit(left, right, np.ones(len(left), int), gap=ROUGH)
    wilcoxon = scores(left, right, curve)[2]
    n, ones = len(group), int(group.sum())
    variance = float((wilcoxon**2).sum()) * ones * (n - ones) / (n * (n - 1))
    return float(wilcoxon[group == 1].sum()) / math.sqrt(variance) if variance > 0 else 0.0


def visit_days(days: Sequence[int], every: int, until: int) -> tuple[int, ...]:
    """The days of a plan up to `until`, as listed or every so many days; the next one after it too, which dates late losses."""
    planned = sorted(days) if days else list(range(every, until + 2 * every, every))
    later = [d for d in planned if d > until][:1]
    return (*(d for d in planned if d <= until), *later)
