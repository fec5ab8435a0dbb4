"""Retention by what units have in common (fixing, substrate, depth, partner), and whether fixings can be told apart."""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from typing import NamedTuple

from pipeline.indicators.attached import attached
from pipeline.indicators.estimate import Estimate
from pipeline.indicators.figure import Figure, scope
from pipeline.indicators.remember import Memory
from pipeline.indicators.story import Cautions, Lives, intervals, over_sites, stories
from pipeline.indicators.told_apart import told_apart

CALLED = {"fixing": "fixing", "substrate": "substrate", "depth": "depth band", "partner": "partner"}
Units = Mapping[str, Sequence[Lives]]  # by value of the sort


class Sorted(NamedTuple):
    """Units of one value of one sort, "" where nobody told it."""

    sort: str
    value: str
    lives: Lives


def held_by(told: Iterable[Sorted], around: Cautions, days: Sequence[int], memory: Memory) -> list[Figure]:
    """Retention over sites of each value, where a method has several; and the chance that fixings do not differ."""
    groups: dict[tuple[str, str], dict[str, list[Lives]]] = defaultdict(lambda: defaultdict(list))
    for t in told:
        groups[t.lives.method, t.sort][t.value].append(t.lives)
    figures = []
    for (method, sort), values in sorted(groups.items()):
        unsaid = sum(r.units for r in values.pop("", []))
        if len(values) < 2:
            continue
        more = [f"units whose {CALLED[sort]} is not told, left out: {unsaid}"] if unsaid else []
        for value, lives in sorted(values.items()):
            own = over_sites(stories(lives, around, ((sort, value),)))
            found = attached(own, days, memory, over=f"unit retention by {sort}")
            also = [*more, *_mixed_up(sort, value, values)]
            figures += [Figure(f.indicator, f.scope, f.estimate.with_cautions(*also)) for f in found]
        if sort == "fixing":
            figures.append(_apart(method, values, memory, [*more, *_beside(values, around)]))
    return figures


def _beside(values: Units, around: Cautions) -> Sequence[str]:
    """What to beware of beside all of these units."""
    [every] = over_sites(stories((r for rows in values.values() for r in rows), around))
    return every.cautions


def _mixed_up(sort: str, value: str, values: Units) -> list[str]:
    """What cannot be parted from what, "" if all is well."""
    at = {v: {r.site for r in rows} for v, rows in values.items()}
    others = set().union(*(sites for v, sites in at.items() if v != value))
    called = CALLED[sort]
    if len(at[value]) == 1 and not at[value] & others:
        return [f"{called} and site cannot be told apart: {value} was at {min(at[value])} only, and no other there"]
    if not at[value] & others:
        return [f"no site of {value} had another {called}, so that sites are compared rather than {called}s"]
    return []


def _apart(method: str, values: Units, memory: Memory, more: Sequence[str]) -> Figure:
    by_site: dict[str, dict[str, list[Lives]]] = defaultdict(lambda: defaultdict(list))
    for value, rows in values.items():
        for r in rows:
            by_site[r.site][value].append(r)
    found = {site: {v: intervals(rows) for v, rows in sorted(told.items())} for site, told in sorted(by_site.items())}
    what = scope(site="all", method=method)

    def compute() -> Estimate:
        return told_apart(found, "fixing")

    return Figure(
        "fixings told apart", what, memory.recall("fixings told apart", what, found, compute).with_cautions(*more)
    )
