"""Retention of tagged units, at each site and over all sites that a method was put down at."""

import datetime as dt
import math
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from typing import NamedTuple

from pipeline.indicators.estimate import Estimate, not_estimable
from pipeline.indicators.figure import Figure, Scope, scope
from pipeline.indicators.remember import Memory
from pipeline.indicators.retention import Interval, retention_over_sites, site_retention


class Lives(NamedTuple):
    """Units of one site and method that share an interval: gone after day l, by day r (None: never found gone)."""

    site: str
    method: str
    left: int
    right: int | None
    unresolved: str
    units: int
    misses: int


class Search(NamedTuple):
    """When a site's units went down, and the first visit after that did not find the site (None: none failed)."""

    first_down: dt.date
    first_failed: dt.date | None


def attached(
    lives: Iterable[Lives], searches: Mapping[tuple[str, str], Search], days: Sequence[int], memory: Memory
) -> list[Figure]:
    """Retention at each of the programme's days. searches: by (site, method)."""
    groups: dict[tuple[str, str], list[Lives]] = defaultdict(list)
    for life in lives:
        groups[life.method, life.site].append(life)
    methods: dict[str, dict[str, list[Lives]]] = defaultdict(dict)
    for (method, site), rows in sorted(groups.items()):
        methods[method][site] = rows
    figures = []
    for method, sites in methods.items():
        for day in days:
            for site, rows in sites.items():
                what = scope(site=site, method=method, day=day)
                figures.append(Figure("unit retention", what, _site(rows, what, day, memory)))
            what = scope(site="all", method=method, day=day)
            estimate = _over_sites(sites, method, searches, what, day, memory)
            figures.append(Figure("unit retention over sites", what, estimate))
    return figures


def _intervals(rows: list[Lives]) -> list[Interval]:
    return sorted(
        (float(r.left), math.inf if r.right is None else float(r.right), r.units) for r in rows if not r.unresolved
    )


def _site(rows: list[Lives], what: Scope, day: int, memory: Memory) -> Estimate:
    intervals = _intervals(rows)
    cautions = _cautions(rows)
    if not intervals:
        units = sum(r.units for r in rows)
        return not_estimable("no unit's story holds together", unit="fraction", n=units, n_of="units").with_cautions(
            *cautions
        )
    estimate = memory.recall("unit retention", what, [intervals, day], lambda: site_retention(intervals, day))
    return estimate.with_cautions(*cautions)


def _over_sites(
    sites: Mapping[str, list[Lives]],
    method: str,
    searches: Mapping[tuple[str, str], Search],
    what: Scope,
    day: int,
    memory: Memory,
) -> Estimate:
    found, never = {}, {}
    for site, rows in sorted(sites.items()):
        intervals = _intervals(rows)
        told = any(left > 0 or right != math.inf for left, right, _ in intervals)
        if told:
            found[site] = intervals
        else:
            never[site] = (sum(n for _, _, n in intervals), _first_failed(searches.get((site, method)), day))
    cautions = [c for rows in sites.values() for c in _cautions(rows)]
    if never:
        cautions.append("never looked at again: " + ", ".join(never))
    estimate = memory.recall(
        "unit retention over sites", what, [found, never, day], lambda: retention_over_sites(found, day, never)
    )
    return estimate.with_cautions(*cautions)


def _first_failed(search: Search | None, day: int) -> float:
    """Days until the first search that failed; the asked day itself when nobody has looked."""
    if search is None or search.first_failed is None:
        return float(day)
    return float((search.first_failed - search.first_down).days)


def _cautions(rows: list[Lives]) -> list[str]:
    misses, cautions = sum(r.misses for r in rows), []
    if misses:
        times = "once" if misses == 1 else f"{misses} times"
        cautions.append(
            f"{times} at {rows[0].site} a unit called missing was seen again: some absences may be misses too"
        )
    for r in rows:
        if r.unresolved:
            units = "1 unit is" if r.units == 1 else f"{r.units} units are"
            cautions.append(f"{units} left out at {r.site}: {r.unresolved}")
    return cautions
