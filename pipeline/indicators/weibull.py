"""The fraction of units still attached by a smooth curve: Weibull's, over sites, beside the one without a shape.

S(t) = exp(-(t / scale)^shape), days since put down. Intervals as in `retention`; a unit that went on the day it was
put down is taken to have gone within the first day. The curve is never drawn past the last look at any unit.
"""

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from scipy.optimize import minimize
from scipy.special import stdtrit

from .estimate import Estimate, not_estimable
from .retention import FEWEST_SITES, UNIT, UNITS, Data, Interval, Told, as_data, note_of, sorted_out, tabled, told_once
from .turnbull import TAIL, Floats, Ints

METHOD = "Weibull, interval-censored likelihood"
SAME = 1e-6  # a spread of log(-log S) from rounding alone
FLAT = 1e-5  # slope of the log-likelihood, per unit, that counts as none
STEEPEST = 50.0  # a shape beyond it, or its inverse, is a step or a level line: the data tell of no curve


@dataclass(frozen=True)
class Weibull:
    """The fitted curve. scale: days; shape: no unit; loglik: natural logarithm of the likelihood."""

    scale: float
    shape: float
    loglik: float

    def log_hazard(self, day: float) -> float:
        """log(-log S) on that day, above 0."""
        return self.shape * (math.log(day) - math.log(self.scale))

    def survival(self, day: float) -> float:
        """Fraction 0..1 still attached on that day."""
        return math.exp(-math.exp(min(self.log_hazard(day), 700.0))) if day > 0 else 1.0


def fit(data: Data) -> Weibull:
    """The Weibull curve of greatest likelihood. data: distinct L, R, units, some L > 0 or R < inf.

    ValueError says why none can be fitted: no shape is likeliest when one day may explain every loss, or when losses
    come all before and holds all after. Source: Kalbfleisch & Prentice 2002, The Statistical Analysis of Failure
    Time Data, ch. 3; agrees with lifelines, scipy and R survreg.
    """
    left, right, units = data
    if not np.isfinite(right).any():
        raise ValueError("no unit is known lost")
    if left.max() <= right.min():
        raise ValueError("every loss may have come on one day")
    right, size = np.where(right == 0, 1.0, right), float(units.sum())
    exact = (left == right) & (left > 0)
    with np.errstate(divide="ignore"):
        log_left, log_right = np.log(left), np.log(right)

    def falls(at: Floats) -> tuple[float, Floats]:
        """Minus the log-likelihood of a unit, and its slope in (log scale, log shape)."""
        shape = math.exp(min(at[1], 100.0))  # a step already; the search may try anything
        reach_left, reach_right = (log_left - at[0]) * shape, (log_right - at[0]) * shape
        with np.errstate(over="ignore"):
            h_left, h_right = np.exp(reach_left), np.exp(reach_right)
            between = np.maximum(h_right - h_left, 1e-300)  # neither end may be lost to rounding
            told = np.where(exact, at[1] - log_right + reach_right - h_right, -h_left + np.log(-np.expm1(-between)))
            ratio = np.where(np.isfinite(between), 1 / np.expm1(between), 0.0)  # weight of the right end's hazard

        def slope(d_left: Floats, d_right: Floats, d_exact: Floats) -> float:
            inner = -d_left + np.where(ratio > 0, (d_right - d_left) * ratio, 0.0)
            return -float((units * np.where(exact, d_exact, inner)).sum())

        # of the hazards: by log scale -shape h, by log shape h log h (0 at day 0)
        turn_left, turn_right = (
            np.where(np.isfinite(r) & np.isfinite(h), np.where(np.isfinite(r), r, 0.0) * h, 0.0)
            for r, h in ((reach_left, h_left), (reach_right, h_right))
        )
        ends = np.where(np.isfinite(h_right), h_right, 0.0)
        by_scale = slope(-shape * h_left, -shape * ends, shape * (h_right - 1))
        by_shape = slope(turn_left, turn_right, 1 + reach_right - turn_right)
        return -float((units * told).sum()) / size, np.array([by_scale, by_shape]) / size

    with np.errstate(invalid="ignore", divide="ignore", over="ignore"):
        middle = np.where(np.isfinite(right), (left + right) / 2, left)
        start = np.array([math.log(max(float(middle @ units) / size, 1.0)), 0.0])
        found = minimize(falls, start, jac=True, method="BFGS", options={"gtol": 1e-8})
    steep, level = abs(found.x[1]) > math.log(STEEPEST), not abs(found.x[0]) < 50
    if steep or level or not np.abs(found.jac).max() < FLAT:
        raise ValueError("the losses tell too little of a curve")
    return Weibull(math.exp(found.x[0]), math.exp(found.x[1]), -float(found.fun) * size)


def weibull_over_sites(intervals_by_site: Mapping[str, Iterable[Interval]], day: float) -> Estimate:
    """Fraction 0..1 of all sites' units still attached on that day, by one Weibull curve; the SITE is the unit.

    Limits: each site is left out in turn (jackknife), the spread of log(-log S) goes with Student's t at sites less
    one. Under three sites, or when the curve of the rest cannot be fitted, none. not estimable: after the last look
    at any unit, on day 0, or where `fit` says so. n: units with an informative visit. Sources: as `fit`; Tukey 1958,
    Ann. Math. Stat. 29:614.
    """
    sites, silent = [], 0
    for intervals in intervals_by_site.values():
        data, unasked = sorted_out(intervals)
        silent += unasked
        if data is not None:
            sites.append(data)
    sites.sort(key=lambda data: [part.tolist() for part in data])
    n = sum(int(s[2].sum()) for s in sites)
    note = note_of(f"over {len(sites)} site{'' if len(sites) == 1 else 's'}", silent, n)

    def refused(why: str) -> Estimate:
        return not_estimable(f"{why}; {note}", unit=UNIT, n=n, n_of=UNITS, estimator=METHOD)

    if not sites:
        return refused("no unit was ever looked for again")
    last = max(float(np.where(np.isfinite(s[1]), s[1], s[0]).max()) for s in sites)
    if day > last:
        return refused(f"not estimable after day {last:g}, the last look at any unit")
    if day <= 0:
        return refused("no curve is needed for the day they were put down")
    try:
        curve, rest = _curves(told_once(sites))
    except ValueError as e:
        return refused(f"no curve can be fitted: {e}")
    limits, why = _limits(curve, rest, day)
    value = curve.survival(day)
    return Estimate(
        state="estimated", unit=UNIT, n=n, n_of=UNITS, value=value, low=limits and limits[0], high=limits and limits[1],
        estimator=f"{METHOD}, delete-one-site jackknife on log(-log), t with {len(sites) - 1} df" if limits else METHOD,
        note=f"{note}; shape {curve.shape:.2f}, scale {curve.scale:.0f} days" + (f"; {why}" if why else ""),
    )  # fmt: skip


@lru_cache(maxsize=1)  # the programme's days are asked for one after the other, and no curve depends on the day
def _curves(sites: Told) -> tuple[Weibull, list[Weibull] | str]:
    """The curve of all sites, and those with each left out in turn, or why there are none. ValueError as `fit`."""
    left, right, table = tabled([as_data(*site) for site in sites])
    every = table.sum(0)
    curve = fit((left, right, every))
    if len(sites) < FEWEST_SITES:
        return curve, f"no interval over sites: {len(sites)} of the {FEWEST_SITES} needed"
    try:
        return curve, [fit(_some(left, right, every - own)) for own in table]
    except ValueError as e:
        return curve, f"no interval: with one site left out, {e}"


def _some(left: Floats, right: Floats, units: Ints) -> Data:
    """The intervals that some unit has."""
    return left[units > 0], right[units > 0], units[units > 0]


def _limits(curve: Weibull, rest: list[Weibull] | str, day: float) -> tuple[tuple[float, float] | None, str]:
    """The limits, or None and why there are none."""
    if isinstance(rest, str):
        return None, rest
    m, without = len(rest), np.array([w.log_hazard(day) for w in rest])
    error = math.sqrt((m - 1) / m * float(((without - without.mean()) ** 2).sum()))
    if not math.isfinite(error) or error < SAME:
        return None, "no interval: the sites do not differ, so their spread says nothing"
    reach, middle = float(stdtrit(m - 1, 1 - TAIL)) * error, curve.log_hazard(day)
    low, high = (math.exp(-math.exp(min(middle + step, 700.0))) for step in (reach, -reach))
    return (low, high), ""
