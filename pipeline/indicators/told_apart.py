"""Whether units of different sorts (fixings) held differently: a score test for visit intervals, by permutation.

Every unit gets a score from the one curve of all units: high if it went early. How far the sum of each sort's scores is
from its share, and how often so much or more comes about when sorts are dealt out anew, tells whether they can be
told apart. Sorts are dealt out as they were assigned: to whole sites where each site has one sort, else within sites.
Sources: Finkelstein 1986, Biometrics 42:845; Sun 1996, Stat. Med. 15:1387; Fay & Shaw 2010, J. Stat. Softw. 36(2).
"""

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import NamedTuple

import numpy as np
from scipy.special import xlogy

from pipeline.plural import n_of

from .estimate import Estimate, not_estimable
from .retention import UNITS, Interval, sorted_out
from .turnbull import Floats, Ints, Turnbull, distinct, fit

UNIT = "chance"
METHOD = "interval-censored score test (Finkelstein 1986), permuted"
SEED, DRAWS = 1986, 9_999
ALL_UP_TO, MANY = 20_000, 10**12  # arrangements: so many are all looked at, more are drawn from
SELDOM = 0.05  # from here down sorts are said to be told apart; the chance itself always stands beside


class Site(NamedTuple):
    """A site's units: scores of each distinct interval (intervals x 3), and how many of each sort (sorts x intervals)."""

    scores: Floats
    units: Ints


def scores(left: Floats, right: Floats, curve: Turnbull) -> Floats:
    """Scores of each interval (rows: Finkelstein, Sun, Wilcoxon), high for early losses; over all units each adds up to 0.

    With S before L and S at R of the curve of all units: (S(L) ln S(L) - S(R) ln S(R)) / (S(L) - S(R)), for hazards in
    proportion; the same with -H for ln S, the log-rank's, H adding up mass over what was left; S(L) + S(R) - 1, which
    weighs early losses more. Formulas: Fay & Shaw 2010.
    """
    mass = np.array(curve.mass) / math.fsum(curve.mass)
    gone = np.append(0.0, np.cumsum(mass))
    gone[-1] = 1.0
    level, hazard = 1 - gone, np.append(0.0, np.cumsum(mass / (1 - gone[:-1])))
    before = np.where(left == right, np.nextafter(left, -1), left)  # a loss on a known day: S up to that day
    i, j = (np.searchsorted(curve.p, at, side="right") for at in (before, right))
    at_left, at_right = level[i], level[j]
    return np.array([
        (xlogy(at_left, at_left) - xlogy(at_right, at_right)) / (at_left - at_right),
        (at_right * hazard[j] - at_left * hazard[i]) / (at_left - at_right),
        at_left + at_right - 1,
    ])  # fmt: skip


def told_apart(by_site: Mapping[str, Mapping[str, Iterable[Interval]]], what: str) -> Estimate:
    """How often units would differ so much or more by sort if all sorts held alike, 0..1: a two-sided chance.

    by_site: intervals of each site's units by sort. what: how sorts are called ("fixing"). n: units that are compared.
    not estimable: where the sorts of units cannot be told from their sites, or no outcome could tell them apart.
    Sources: as this module.
    """
    rows = [
        (site, sort, data) for site, sorts in sorted(by_site.items()) for sort, intervals in sorted(sorts.items())
        if (data := sorted_out(intervals)[0]) is not None
    ]  # fmt: skip
    names = sorted({sort for _, sort, _ in rows})
    if len(names) < 2:
        return _refused(f"units of only {n_of(len(names), what)} were ever looked for again")
    left, right, units = distinct(*(np.concatenate(parts) for parts in zip(*(data for *_, data in rows), strict=True)))
    each = scores(left, right, fit(left, right, units)).T
    columns = {interval: k for k, interval in enumerate(zip(left.tolist(), right.tolist(), strict=True))}
    tables = {site: np.zeros((len(names), len(columns)), np.int64) for site, *_ in rows}
    for site, sort, (lo, hi, count) in rows:
        at = [columns[interval] for interval in zip(lo.tolist(), hi.tolist(), strict=True)]
        tables[site][names.index(sort), at] = count
    sites = [Site(each, table) for table in tables.values()]
    mixed = [s for s in sites if (s.units.sum(1) > 0).sum() > 1]
    return _within_sites(mixed, names, len(sites), what) if mixed else _by_site(sites, names, what)


def _within_sites(sites: Sequence[Site], names: Sequence[str], in_all: int, what: str) -> Estimate:
    sites = [_from_its_mean(s) for s in sites]
    units = np.sum([s.units.sum(1) for s in sites], axis=0)
    compared = units > 0
    sites, units = [Site(s.scores, s.units[compared]) for s in sites], units[compared]
    found = np.sum([s.units @ s.scores for s in sites], axis=0)[None]
    ways = math.prod(_ways(s.units.sum(1)) for s in sites)
    if ways <= ALL_UP_TO:
        dealt = np.zeros((1, len(units), 3))
        for s in sites:
            sort = np.repeat(np.arange(len(units)), s.units.sum(1))
            told = np.repeat(s.scores, s.units.sum(0), axis=0)
            one = _sums(told, np.array(list(_arrangements(sort))), len(units))
            dealt = (dealt[:, None] + one[None]).reshape(-1, len(units), 3)
    else:
        dice = np.random.default_rng(SEED)
        dealt = np.sum([_drawn(s, dice) for s in sites], axis=0)
    how = f"dealt out anew within {n_of(len(sites), 'site')}"
    if in_all > len(sites):
        how += f" ({n_of(in_all - len(sites), 'site')} with one {what} only add to the curve)"
    left = [name for name, here in zip(names, compared.tolist(), strict=True) if here]
    return _judged(found, dealt, units, left, _Told(int(units.sum()), ways, how, what))


def _from_its_mean(site: Site) -> Site:
    """The intervals that the site has, their scores told from the site's own mean."""
    some = site.units.sum(0) > 0
    scores, units = site.scores[some], site.units[:, some]
    return Site(scores - units.sum(0) @ scores / units.sum(), units)


def _drawn(site: Site, dice: np.random.Generator) -> Floats:
    """Sums of scores by sort (draws x sorts x 3), the site's units dealt out to its sorts by lot, interval by interval."""
    left, room = int(site.units.sum()), [np.full(DRAWS, units) for units in site.units.sum(1).tolist()]
    sums = np.zeros((3, len(room), DRAWS))  # draws side by side in memory, which halves the time
    for told, count in zip(site.scores, site.units.sum(0).tolist(), strict=True):
        others, rest = np.full(DRAWS, left), np.full(DRAWS, count)
        for g, own in enumerate(room):
            others -= own
            taken = dice.hypergeometric(own, others, rest) if g < len(room) - 1 else rest  # the last takes what is left
            room[g] = own - taken
            rest = rest - taken  # not in place: the last takes `rest` itself
            sums[:, g] += told[:, None] * taken
        left -= count
    return sums.transpose(2, 1, 0)


def _by_site(sites: Sequence[Site], names: Sequence[str], what: str) -> Estimate:
    sort = np.array([int(s.units.sum(1).argmax()) for s in sites])
    sizes = np.array([[float(s.units.sum())] for s in sites])
    n = int(sizes.sum())
    if len(sites) == len(names):
        return _refused(f"{what} and site cannot be told apart: each {what} was at one site only", n)
    sums, ways = np.array([s.units.sum(0) @ s.scores for s in sites]), _ways(np.bincount(sort))
    if ways <= ALL_UP_TO:
        labels = np.array(list(_arrangements(sort)))
    else:
        labels = np.random.default_rng(SEED).permuted(np.tile(sort, (DRAWS, 1)), axis=1)
    found, dealt = (_sums(sums, x, len(names)) / np.sqrt(_sums(sizes, x, len(names))) for x in (sort[None], labels))
    how = f"dealt out anew over {n_of(len(sites), 'site')}, since each site has one {what}: sites are what is compared"
    return _judged(found, dealt, np.ones(len(names)), names, _Told(n, ways, how, what))


class _Told(NamedTuple):
    """What is said beside the chance."""

    n: int
    ways: int
    how: str
    what: str


def _judged(found: Floats, dealt: Floats, units: Floats | Ints, names: Sequence[str], told: _Told) -> Estimate:
    """found: sums of scores by sort as it was (1 x sorts x 3); dealt: as dealt out anew."""
    here, there = (((x**2) / units[:, None]).sum(1) for x in (found, dealt))
    every = told.ways <= ALL_UP_TO
    close = 1e-9 * (1 + there.max(0))
    hits = (there >= here - close).sum(0)
    chances = hits / len(there) if every else (hits + 1) / (len(there) + 1)
    if every:
        least = float((there[:, 0] >= there[:, 0].max() - close[0]).sum()) / len(there)
        if least > SELDOM:
            return _refused(
                f"too little was looked at: with {n_of(told.ways, 'way')} to deal out the {told.what}s, however "
                "they held, no outcome could tell them apart", told.n
            )  # fmt: skip
    chance = float(chances[0])
    order = [names[k] for k in np.argsort(-found[0, :, 0] / units, kind="stable")]
    if chance <= SELDOM:
        said = f"told apart: so great a difference would be rare if every {told.what} held alike; “{order[0]}” went soonest, “{order[-1]}” last"
    else:
        said = f"cannot tell: so great a difference often comes about though every {told.what} holds alike"
    ways = f"all {told.ways:,} arrangements" if every else f"{len(there):,} draws"
    others = f"by scores of Sun {chances[1]:.3g}, of Wilcoxon's type {chances[2]:.3g}"
    return Estimate(
        state="estimated", unit=UNIT, n=told.n, n_of=UNITS, value=chance, estimator=METHOD,
        note=f"{said}; {told.what}s {told.how}, {ways}; {others}; a chance has no interval",
    )  # fmt: skip


def _refused(why: str, n: int = 0) -> Estimate:
    return not_estimable(why, unit=UNIT, n=n, n_of=UNITS, estimator=METHOD if n else "none")


def _sums(told: Floats, sort: Ints, number: int) -> Floats:
    """Sums of scores by sort (arrangements x sorts x columns). told: units x columns; sort: arrangements x units."""
    return np.stack([(sort == g).astype(float) @ told for g in range(number)], axis=1)


def _ways(sizes: Ints) -> int:
    """In how many orders units of such sorts can stand; far too many are told as MANY."""
    if math.lgamma(sizes.sum() + 1) - sum(math.lgamma(k + 1) for k in sizes) > math.log(MANY):
        return MANY
    up_to = np.cumsum(sizes).tolist()
    return math.prod(math.comb(total, k) for total, k in zip(up_to, sizes.tolist(), strict=True))


def _arrangements(sort: Ints) -> Iterator[tuple[int, ...]]:
    """Every different order of these sorts, once."""
    if len(set(sort.tolist())) < 2:
        yield tuple(sort.tolist())
        return
    for first in sorted(set(sort.tolist())):
        at = sort.tolist().index(first)
        for rest in _arrangements(np.delete(sort, at)):
            yield (first, *rest)
