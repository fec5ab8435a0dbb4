"""How often a unit that was there was called missing, from units that were seen again."""

from collections.abc import Iterable, Mapping
from typing import NamedTuple

from scipy.special import betaincinv

from pipeline.indicators.estimate import Estimate, not_estimable
from pipeline.indicators.figure import Figure, scope
from pipeline.indicators.turnbull import TAIL
from pipeline.plural import n_of

NAME, UNIT, LOOKS = "missed though there", "fraction", "looks"
METHOD = "fraction of looks, exact binomial limits (Clopper-Pearson)"


class Looks(NamedTuple):
    """Looks at units of a site and method known to be there, since they were seen later: misses, and found."""

    site: str
    method: str
    misses: int
    found: int


def missed_though_there(misses: int, found: int) -> Estimate:
    """Fraction 0..1 of looks at units that were there which called them missing: misses / (misses + found).

    found: sightings before the last one of each unit, which proved that it was there. not estimable: without such looks.
    Source of the limits: Clopper & Pearson 1934, Biometrika 26:404.
    """
    n = misses + found
    if not n:
        why = "no unit was looked for before the day it was last seen, so nobody knows how often one is missed"
        return not_estimable(why, unit=UNIT, n=0, n_of=LOOKS)
    low = float(betaincinv(misses, found + 1, TAIL)) if misses else 0.0
    high = float(betaincinv(misses + 1, found, 1 - TAIL)) if found else 1.0
    note = f"{misses} of {n_of(n, 'look')} at units that were seen again later called them missing; looks are taken as independent, "
    note += "though those of one dive share its sight"
    return Estimate("estimated", UNIT, n, LOOKS, METHOD, value=misses / n, low=low, high=high, note=note)


def detection(looks: Iterable[Looks], around: Mapping[tuple[str, str], Iterable[str]]) -> list[Figure]:
    """At each site and over all of them. around: cautions by (site, method), "all" for all sites."""
    figures, totals = [], dict[str, tuple[int, int]]()
    for site, method, misses, found in looks:
        before = totals.get(method, (0, 0))
        totals[method] = (before[0] + misses, before[1] + found)
        figures.append((site, method, misses, found))
    figures += [("all", method, *told) for method, told in totals.items()]
    return [
        Figure(NAME, scope(site=site, method=method), missed_though_there(misses, found).with_cautions(*around.get((site, method), ())))
        for site, method, misses, found in figures
    ]  # fmt: skip
