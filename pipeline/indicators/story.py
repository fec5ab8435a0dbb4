"""What was seen of the units of one method, at one site or at all of them: what every figure of retention starts from."""

import math
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from typing import NamedTuple

from pipeline.indicators.figure import Scope, scope
from pipeline.indicators.retention import Interval, Unfound


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
    misses: int = 0
    once: int = 0


Cautions = Mapping[tuple[str, str], Mapping[str, int]]  # by (site, method): what to beware of, how often


class Story(NamedTuple):
    """The units of one method at one site, or at all ("all"), by site; and what to beware of.

    also: what else they have in common, such as ("fixing", "bolt").
    """

    site: str
    method: str
    sites: Mapping[str, Sequence[Lives]]
    cautions: Sequence[str]
    also: Scope = ()

    def scope(self, day: int | None = None) -> Scope:
        """What a figure of these units is of."""
        return scope(site=self.site, method=self.method, day=day, **dict(self.also))

    @property
    def rows(self) -> list[Lives]:
        """Those of every site."""
        return [r for rows in self.sites.values() for r in rows]

    def intervals(self) -> dict[str, list[Interval]]:
        """By site, the interval of every unit whose story holds together."""
        return {site: intervals(rows) for site, rows in self.sites.items()}

    def unfound(self, day: int) -> dict[str, list[Unfound]]:
        """By site, units that nobody could look for, since their site was not found; sites without any are left out."""
        return {site: told for site, rows in self.sites.items() if (told := _unfound(rows, day))}


def stories(lives: Iterable[Lives], around: Cautions, also: Scope = ()) -> list[Story]:
    """Of every method: one a site, then one of all sites. around: what stands beside the units of each."""
    methods: dict[str, dict[str, list[Lives]]] = defaultdict(lambda: defaultdict(list))
    for life in sorted(lives, key=lambda told: (told.method, told.site)):
        methods[life.method][life.site].append(life)
    made = []
    for method, sites in methods.items():
        for site, rows in sites.items():
            made.append(Story(site, method, {site: rows}, _cautions(rows, [around.get((site, method), {})]), also))
        beside = [around.get((site, method), {}) for site in sites]
        every = [r for rows in sites.values() for r in rows]
        made.append(Story("all", method, dict(sites), _cautions(every, beside), also))
    return made


def over_sites(told: Iterable[Story]) -> list[Story]:
    """Those of all sites."""
    return [s for s in told if s.site == "all"]


def intervals(rows: Iterable[Lives]) -> list[Interval]:
    """The interval of every unit whose story holds together, in order."""
    return sorted(
        (float(r.left), math.inf if r.right is None else float(r.right), r.units) for r in rows if not r.unresolved
    )


def _unfound(rows: Sequence[Lives], day: int) -> list[Unfound]:
    """Units that nobody could look for, since their site was not found; units never looked for at all are among them."""
    known = any(r.left > 0 or r.right is not None for r in rows if not r.unresolved)
    return sorted(
        (float(r.left), r.units, float(day if r.failed is None else r.failed))
        for r in rows if r.right is None and not r.unresolved and (r.failed is not None or not known)
    )  # fmt: skip


def _cautions(rows: Iterable[Lives], around: Iterable[Mapping[str, int]]) -> list[str]:
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
