"""Retention of tagged units, at each site and over all sites that a method was put down at."""

import math
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from typing import NamedTuple

from pipeline.indicators.estimate import Estimate, not_estimable
from pipeline.indicators.figure import Figure, scope
from pipeline.indicators.remember import Memory
from pipeline.indicators.retention import Interval, Unfound, retention_over_sites, site_retention


class Lives(NamedTuple):
    """Units of one site and method that share an interval: gone after day l, by day r (None: never found gone).

    failed: the day of the first search that did not find their site again, None if none failed.
    once: units whose going rests on a single look that found them absent.
    """

    site: str
    method: str
    left: int
    right: int | None
    unresolved: str
    failed: int | None
    units: int
    misses: int
    once: int


Cautions = Mapping[tuple[str, str], Mapping[str, int]]  # by (site, method): what to beware of, how often


def attached(lives: Iterable[Lives], around: Cautions, days: Sequence[int], memory: Memory) -> list[Figure]:
    """Retention at each of the programme's days. around: what stands beside the units of each site and method."""
    groups: dict[tuple[str, str], list[Lives]] = defaultdict(list)
    for life in lives:
        groups[life.method, life.site].append(life)
    methods: dict[str, dict[str, list[Lives]]] = defaultdict(dict)
    for (method, site), rows in sorted(groups.items()):
        methods[method][site] = rows
    figures = []
    for method, sites in methods.items():
        told = {site: _cautions(rows, [around.get((site, method), {})]) for site, rows in sites.items()}
        together = _cautions(
            [r for rows in sites.values() for r in rows], [around.get((site, method), {}) for site in sites]
        )
        for day in days:
            for site, rows in sites.items():
                estimate = _site(rows, day, memory).with_cautions(*told[site])
                figures.append(Figure("unit retention", scope(site=site, method=method, day=day), estimate))
            estimate = _over_sites(sites, day, memory).with_cautions(*together)
            figures.append(Figure("unit retention over sites", scope(site="all", method=method, day=day), estimate))
    return figures


def _intervals(rows: list[Lives]) -> list[Interval]:
    return sorted(
        (float(r.left), math.inf if r.right is None else float(r.right), r.units) for r in rows if not r.unresolved
    )


def _unfound(rows: list[Lives], day: int) -> list[Unfound]:
    """Units that nobody could look for, since their site was not found; units never looked for at all are among them."""
    known = any(r.left > 0 or r.right is not None for r in rows if not r.unresolved)
    return sorted(
        (float(r.left), r.units, float(day if r.failed is None else r.failed))
        for r in rows if r.right is None and not r.unresolved and (r.failed is not None or not known)
    )  # fmt: skip


def _site(rows: list[Lives], day: int, memory: Memory) -> Estimate:
    intervals, unfound = _intervals(rows), _unfound(rows, day)
    if not intervals:
        units = sum(r.units for r in rows)
        return not_estimable("no unit's story holds together", unit="fraction", n=units, n_of="units")
    return memory.recall("unit retention", [intervals, day, unfound], lambda: site_retention(intervals, day, unfound))


def _over_sites(sites: Mapping[str, list[Lives]], day: int, memory: Memory) -> Estimate:
    found = {site: _intervals(rows) for site, rows in sorted(sites.items())}
    unfound = {site: told for site, rows in sorted(sites.items()) if (told := _unfound(rows, day))}
    never = [s for s in unfound if all((left, right) == (0, math.inf) for left, right, _ in found[s])]
    estimate = memory.recall(
        "unit retention over sites", [found, unfound, day], lambda: retention_over_sites(found, day, unfound)
    )
    lost = [s for s in unfound if s not in never]
    return estimate.with_cautions(
        "never looked at again: " + ", ".join(never) if never else "",
        "not found again after an earlier look: " + ", ".join(lost) if lost else "",
    )


def _cautions(rows: list[Lives], around: Iterable[Mapping[str, int]]) -> list[str]:
    """What to beware of, each with how often, added up over the sites at hand."""
    times: dict[str, int] = defaultdict(int)
    for told in around:
        for what, n in told.items():
            times[what] += n
    for r in rows:
        times["times a unit called missing was seen again, so that other absences may be misses too"] += r.misses
        if r.unresolved:
            times[f"units left out, {r.unresolved}"] += r.units
        else:
            times["units lost by the word of a single look, the last at them"] += r.once
    return [f"{what}: {n}" for what, n in sorted(times.items()) if n]
