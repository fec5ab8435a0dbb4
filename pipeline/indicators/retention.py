"""The fraction of units still attached some days after they were put down: at one site, and over sites.

Intervals are (L, R, units): so many units last seen attached on day L and first found absent on day R, days
counted from being put down; R = inf if never found absent, L = R if the loss was witnessed. (0, inf) says
nothing about a unit: such units are counted in the note and left out of the figure.
"""

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from functools import lru_cache
from itertools import combinations_with_replacement

import numpy as np
from scipy.special import expit, logit, stdtrit

from pipeline.plural import n_of

from .estimate import Estimate, not_estimable
from .many_curves import rough_curves
from .turnbull import TAIL, Floats, Ints, Numbers, Turnbull, distinct, fit, likelihood_limits, settled

Interval = tuple[float, float, int]
Unfound = tuple[float, int, float]  # last seen attached on that day, units, day of the first search that failed
Data = tuple[Floats, Floats, Ints]  # L, R, units: distinct and in order
Told = tuple[tuple[tuple[float, ...], ...], ...]  # the same of every site, in plain numbers

UNIT, UNITS = "fraction", "units"
CURVE = "Turnbull 1976 NPMLE on visit intervals"
ONE_SITE = "this site only"
FEWEST_SITES = 3
SEED, DRAWS = 1976, 400  # fixed: the same data give the same limits; 400 draws know a spread to within 4 %
ALL_DRAWS_UP_TO = 5  # sites: they have at most 126 distinct draws, so each is taken once, with its probability
ROUGH = 1e-3  # log-likelihood that a refitted draw may fall short of: under 0.05 standard errors of the curve


def site_retention(intervals: Iterable[Interval], day: float, unfound: Iterable[Unfound] = ()) -> Estimate:
    """Fraction 0..1 of one site's units still attached on that day, with likelihood-ratio limits.

    unfound: those of the units that nobody could look for since, the site being not found; a caution carries the
    figure with all of these kept, and with all lost. n: units with at least one informative visit. bounded: the day lies between visits, and only value_from to
    value_to is known. not estimable: after the last day on which the curve is defined; or no informative
    visit at all, then with value_from 0 and value_to 1. Raises ValueError as `turnbull.fit`, or unless day is
    finite and at least 0. Source: Turnbull 1976, J. R. Stat. Soc. B 38:290; limits as
    `turnbull.likelihood_limits`.
    """
    _check_day(day)
    data, silent = sorted_out(intervals)
    if data is None:
        return _nothing_known(ONE_SITE, silent)
    curve = fit(*data)
    note = note_of(ONE_SITE, silent, curve.n)
    caution = _kept_or_lost(data, {ONE_SITE: list(unfound)}, day)
    if day > curve.estimable_to():
        return _too_late(curve, note).with_cautions(caution)
    limits = likelihood_limits(*data, day)
    return _estimate(curve, day, note, f"{CURVE}, likelihood-ratio limits", limits).with_cautions(caution)


def retention_over_sites(
    intervals_by_site: Mapping[str, Iterable[Interval]],
    day: float,
    unfound: Mapping[str, Iterable[Unfound]] | None = None,
) -> Estimate:
    """Fraction 0..1 of all sites' units still attached on that day; the limits take the SITE as the unit.

    All units share one curve. Sites are drawn with all their units and the curve is refitted; the spread of
    its log-odds over the draws, at least the binomial one, goes with Student's t at one less than the number
    of sites where some unit is known to be attached or lost on that day. Under three of these: no limits.
    unfound: by site, the units that nobody could look for since, the site being not found; a caution carries
    the figure with all of these kept, and with all lost. States, n and errors as `site_retention`. Source:
    Turnbull 1976, J. R. Stat. Soc. B 38:290; limits: cluster bootstrap standard error, t on log-odds.
    """
    _check_day(day)
    lost = {site: told for site, rows in (unfound or {}).items() if (told := [r for r in rows if r[1]])}
    sites, silent = [], sum(r[1] for s, rows in lost.items() for r in rows if s not in intervals_by_site)
    for intervals in intervals_by_site.values():
        data, unasked = sorted_out(intervals)
        silent += unasked
        if data is not None:
            sites.append(data)
    sites.sort(key=lambda data: [part.tolist() for part in data])  # by content: no name or order can matter
    scope = f"over {n_of(len(sites), 'site')}"
    if not sites:
        return _nothing_known(scope, silent).with_cautions(_kept_or_lost(None, lost, day))
    data = distinct(*(np.concatenate(parts) for parts in zip(*sites, strict=True)))
    curve = fit(*data)
    caution = _kept_or_lost(data, lost, day)
    note = note_of(scope, silent, curve.n)
    if day > curve.estimable_to():
        return _too_late(curve, note).with_cautions(caution)
    informed = sum(any(settled(*site, day)) for site in sites)
    if informed < FEWEST_SITES:
        note += f"; no interval over sites: {informed} of the {FEWEST_SITES} needed tell of that day"
        return _estimate(curve, day, note, CURVE, None).with_cautions(caution)
    limits = _limits_over_sites(curve, sites, data, day, informed)
    method = f"{CURVE}, site-cluster bootstrap on log-odds, t with {informed - 1} df"
    return _estimate(curve, day, note, method, limits).with_cautions(caution)


def _limits_over_sites(
    curve: Turnbull, sites: list[Data], data: Data, day: float, informed: int
) -> tuple[float, float]:
    # Only units that settle the question on that day count here: a hundred bags last seen on day 10 make a
    # statement about day 60 no surer.
    n = sum(settled(*data, day))

    def log_odds(bounds: Floats) -> Floats:
        return np.asarray(logit(np.clip(bounds, 0.5 / n, 1 - 0.5 / n)))

    curves, chances = _refits(told_once(sites))
    spread = log_odds(np.array([curve.survival_bounds(day) for curve in curves]))
    # In some draws the day falls between visits, or after them, and the bounds part: the wilder one counts.
    centre = (chances[:, None] * spread).sum(0)
    variance = (chances[:, None] * (spread - centre) ** 2).sum(0).max()
    middle = log_odds(np.array(curve.survival_bounds(day)))
    odds = expit(middle)
    floor = 1 / (n * odds * (1 - odds))
    reach = float(stdtrit(informed - 1, 1 - TAIL)) * np.sqrt(np.maximum(variance, floor))
    return float(expit(middle[0] - reach[0])), float(expit(middle[1] + reach[1]))


def tabled(sites: Sequence[Data]) -> tuple[Floats, Floats, Ints]:
    """Every distinct interval's L and R, and how many units of each site have it (sites x intervals)."""
    left, right, _ = distinct(*(np.concatenate(parts) for parts in zip(*sites, strict=True)))
    columns = {interval: i for i, interval in enumerate(zip(left.tolist(), right.tolist(), strict=True))}
    table = np.zeros((len(sites), len(columns)), np.int64)
    for row, (lo, hi, units) in enumerate(sites):
        table[row, [columns[i] for i in zip(lo.tolist(), hi.tolist(), strict=True)]] = units
    return left, right, table


def told_once(sites: Sequence[Data]) -> Told:
    """The sites' data as a key of what is remembered."""
    return tuple(tuple(tuple(part.tolist()) for part in site) for site in sites)


@lru_cache(maxsize=1)  # the programme's days are asked for one after the other, and no curve depends on the day
def _refits(sites: Told) -> tuple[list[Turnbull], Floats]:
    """The curve of every draw of sites, and how probable each draw is."""
    left, right, table = tabled([as_data(*site) for site in sites])
    draws, chances = _draws(len(sites))
    return rough_curves(left, right, draws @ table, ROUGH), chances


def as_data(left: Numbers, right: Numbers, units: Numbers) -> Data:
    """L, R and units as arrays."""
    return np.asarray(left, np.float64), np.asarray(right, np.float64), np.asarray(units, np.int64)


def _draws(sites: int) -> tuple[Ints, Floats]:
    """How often each draw takes each site, and how probable the draw is: all draws if they are few."""
    if sites > ALL_DRAWS_UP_TO:
        drawn = np.random.default_rng(SEED).multinomial(sites, [1 / sites] * sites, DRAWS)
        different, times = np.unique(drawn, axis=0, return_counts=True)  # of a few sites many draws are alike
        return different, times / DRAWS
    picks = combinations_with_replacement(range(sites), sites)
    draws = np.array([np.bincount(pick, minlength=sites) for pick in picks])
    ways = [math.factorial(sites) / math.prod(math.factorial(k) for k in draw) for draw in draws.tolist()]
    return draws, np.array(ways) / sites**sites


def if_not_found(
    intervals_by_site: Mapping[str, Iterable[Interval]], day: float, unfound: Mapping[str, Iterable[Unfound]]
) -> Estimate:
    """Between which bounds the fraction lies: units of sites not found again all lost (value_from), all kept (value_to).

    intervals_by_site, day, unfound, errors as `retention_over_sites`; ValueError when no unit is unfound. n: units with
    an informative visit, and those unfound without one. Source: Turnbull 1976, fitted to either coding.
    """
    _check_day(day)
    told = [rows for intervals in intervals_by_site.values() if (rows := sorted_out(intervals)[0]) is not None]
    data = distinct(*(np.concatenate(parts) for parts in zip(*told, strict=True))) if told else None
    gone = {site: lost for site, found in unfound.items() if (lost := [r for r in found if r[1]])}
    if not gone:
        raise ValueError("every site was found again")
    least, most = _span(data, gone, day)
    silent = sum(units for lost in gone.values() for seen, units, _ in lost if seen == 0)
    return Estimate(
        state="bounded", unit=UNIT, n=silent + (0 if data is None else int(data[2].sum())), n_of=UNITS, estimator=CURVE,
        value_from=least, value_to=most,
        note="the least if units of sites not found again were all lost by the first search that failed, the most if all "
        "stayed; not found or not looked for again: " + ", ".join(sorted(gone)) + "; no 95 % interval is made of bounds",
    )  # fmt: skip


def _kept_or_lost(data: Data | None, unfound: Mapping[str, list[Unfound]], day: float) -> str:
    """What units whose site was not found again could make of the figure, "" if there are none."""
    gone = {site: rows for site, rows in unfound.items() if rows}
    if not gone:
        return ""
    least, most = _span(data, gone, day)
    units = sum(units for rows in gone.values() for _, units, _ in rows)
    sites = "the site" if list(gone) == [ONE_SITE] else n_of(len(gone), "site")
    where = f"{sites} {'was' if len(gone) == 1 else 'were'}"
    span = f"{least:.3f} (all lost) and {most:.3f} (all kept)"
    return f"{where} not found or not looked for again, with {n_of(units, 'unit')}: the fraction lies between {span}"


def _span(data: Data | None, gone: Mapping[str, list[Unfound]], day: float) -> tuple[float, float]:
    """The least and the greatest fraction that units whose site was not found again leave possible.

    Raises ValueError when one that was seen is not among the units of `data` that nobody found gone.
    """
    left, right, count = data or (np.array([]), np.array([]), np.array([], np.int64))
    rest = count.copy()
    rows = [r for told in gone.values() for r in told]
    for seen, units, failed in rows:
        _check_day(failed)
        if seen > 0:
            rest[(left == seen) & np.isinf(right)] -= units
            if (rest < 0).any() or not ((left == seen) & np.isinf(right)).any():
                raise ValueError(f"{units} units last seen on day {seen:g} are more than were told of")
    # Kept: attached as long as anything was watched. Lost: by the first failed search, or by the day asked about if
    # that came first, since no one saw them on it; never before they were seen.
    watched = max([day, *left, *right[np.isfinite(right)]])
    more = [units for _, units, _ in rows]
    worst = [max(seen, min(day, failed)) for seen, _, failed in rows]
    open_end = [math.inf if seen >= day else day_lost for (seen, _, _), day_lost in zip(rows, worst, strict=True)]
    kept = [max(watched, seen) for seen, _, _ in rows], [math.inf] * len(rows)
    told = [] if data is None else [fit(*data)]
    curves = [*told, _refit(data, rest, worst, open_end, more), _refit(data, rest, *kept, more)]
    least, most = zip(*(curve.survival_bounds(day) for curve in curves), strict=True)
    return min(least), max(most)


def _refit(data: Data | None, rest: Ints, more_left: list[float], more_right: list[float], more: list[int]) -> Turnbull:
    """The curve of what is known of all other units, and of those not found again if it went for them as said."""
    left, right = (np.array([]), np.array([])) if data is None else (data[0][rest > 0], data[1][rest > 0])
    return fit(np.append(left, more_left), np.append(right, more_right), np.append(rest[rest > 0], more))


def sorted_out(intervals: Iterable[Interval]) -> tuple[Data | None, int]:
    """The distinct informative intervals, None if there are none; and how many units have no such one."""
    rows = list(intervals)
    if not any(units for _, _, units in rows):
        return None, 0
    left, right, units = distinct(*zip(*rows, strict=True))
    told = (left > 0) | np.isfinite(right)
    silent = int(units[~told].sum())
    return ((left[told], right[told], units[told]) if told.any() else None), silent


def _check_day(day: float) -> None:
    if not (math.isfinite(day) and day >= 0):
        raise ValueError(f"a day since put down is finite and at least 0, not {day}")


def note_of(scope: str, silent: int, told: int) -> str:
    """What is said first, and how many units tell nothing, since no one looked for them again."""
    return scope + (f"; {silent} of {silent + told} units were never looked for again" if silent else "")


def _nothing_known(scope: str, silent: int) -> Estimate:
    why = note_of(scope, silent, 0) if silent else f"{scope}; no units"
    bare = not_estimable(why, unit=UNIT, n=0, n_of=UNITS)
    return replace(bare, value_from=0.0, value_to=1.0)


def _too_late(curve: Turnbull, note: str) -> Estimate:
    why = f"not estimable after day {curve.estimable_to():g}; {note}"
    return not_estimable(why, unit=UNIT, n=curve.n, n_of=UNITS, estimator=CURVE)


def _estimate(curve: Turnbull, day: float, note: str, method: str, limits: tuple[float, float] | None) -> Estimate:
    known, possible = curve.survival_bounds(day)
    bounded = Estimate(
        state="bounded",
        unit=UNIT,
        n=curve.n,
        n_of=UNITS,
        estimator=method,
        value_from=known,
        value_to=possible,
        note=note,
    )
    if limits:  # log-odds never reach 0 or 1, and limits must hold what they are the limits of
        bounded = replace(bounded, low=min(limits[0], known), high=max(limits[1], possible))
    if known < possible:
        return bounded
    return replace(bounded, state="estimated", value=known, value_from=None, value_to=None)
