"""Units needed to know their retention, and to tell two fixings apart, planned with how the programme's own units held."""

import math
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from functools import cache
from typing import NamedTuple

from pipeline.indicators.estimate import Estimate, not_estimable
from pipeline.indicators.figure import Figure, scope
from pipeline.indicators.remember import Memory
from pipeline.indicators.sample_size import (
    POWER,
    design_effect,
    intraclass,
    losses_for_hazards,
    units_for_arcsine,
    units_for_share,
    units_for_shares,
    wilson,
    wilson_half,
)
from pipeline.indicators.turnbull import fit
from pipeline.indicators.visit_power import MOST_UNITS, RUNS, Plan, power_by_visits

HALF = 0.1  # ten points
LEAST, MOST = 0.05, 0.95  # shares between which the other fixing's must lie
AIM = f"planned: seen in {POWER:.0%} of cases, two-sided 5 %, both fixings at every site"


class Gone(NamedTuple):
    """So many units of a method and site that went after day `left`, by day `right` (None: never found gone)."""

    method: str
    site: str
    left: int
    right: int | None
    units: int


class Baseline(NamedTuple):
    """The share still attached on a day that a plan starts from, and where it is from.

    alike: intraclass correlation of units of one site on that day, None where it is not known. a_site: units a site has.
    """

    share: float
    told: str
    assumed: str
    alike: float | None
    a_site: float
    sites: int
    n: int

    @property
    def effect(self) -> float:
        """How many times as many units are needed because those of a site are alike."""
        return 1.0 if self.alike is None else design_effect(self.a_site, self.alike)


def units_to_plan(
    gone: Iterable[Gone], days: Sequence[int], points: int, plan_days: Mapping[int, tuple[int, ...]], missed: float, memory: Memory
) -> list[Figure]:  # fmt: skip
    """Every figure for each method and each of the programme's days; the simulation for the last of these.

    points: difference of two fixings that is worth seeing, in points. plan_days: for each day, the planned days of checks
    up to it and one beyond; empty where none are planned. missed: share of planned visits that failed so far.
    """
    methods: dict[str, list[Gone]] = defaultdict(list)
    for row in sorted(gone, key=lambda g: (g.method, g.site, g.left, math.inf if g.right is None else g.right)):
        methods[row.method].append(row)
    figures = []
    for method, rows in sorted(methods.items()):
        for day in days:
            base = cache(lambda rows=tuple(rows), day=day: baseline(rows, day))
            inputs = [rows, day]
            what = scope(method=method, day=day)
            longest = day == max(days)  # simulated once a method, since it is what costs most
            for indicator, more, compute in (
                ("units to know retention", [], lambda base=base: _to_know(base())),
                ("units to tell fixings apart", [points], lambda base=base: _apart(base(), points)),
                ("losses to tell fixings apart", [points], lambda base=base: _losses(base(), points)),
                (
                    "power of the planned checks", [points, plan_days[day], missed],
                    lambda base=base, day=day: _power(base(), points, day, plan_days[day], missed),
                ),
            )[: 4 if longest else 3]:  # fmt: skip
                figures.append(Figure(indicator, what, memory.recall(indicator, what, [*inputs, *more], compute)))
    return figures


def baseline(rows: Sequence[Gone], day: int) -> Baseline:
    """What the programme's own units of a method tell of that day; one half, the most demanding, where they tell nothing."""
    put_down, sites = sum(r.units for r in rows), len({r.site for r in rows})
    told = [r for r in rows if r.left > 0 or r.right is not None]
    known: dict[str, list[float]] = defaultdict(list)
    for r in told:
        if r.left >= day or (r.right is not None and r.right <= day):
            known[r.site] += [float(r.left >= day)] * r.units
    n = sum(map(len, known.values()))
    alike = intraclass(list(known.values()))
    where = (alike, put_down / sites, sites, n)
    if told:
        left, right = [r.left for r in told], [math.inf if r.right is None else r.right for r in told]
        curve = fit(left, right, [r.units for r in told])
        if n and day <= curve.estimable_to():
            low, high = curve.survival_bounds(day)
            share = min(max(0.5, low), high)  # of all that is possible, the share that asks for most units
            share = min(max(share, 0.5 / n), 1 - 0.5 / n)
            return Baseline(share, f"{share:.2f} of the programme's own units attached on day {day}", "", *where)
    assumed = (
        f"one half attached on day {day} is assumed, which asks for most units: the programme's own tell nothing of it"
    )
    return Baseline(0.5, f"0.50 attached on day {day}, assumed", assumed, *where)


def _beside(base: Baseline) -> str:
    return (
        f"units of one site are taken as no more alike than others: {base.n} units of known fate at {base.sites} sites do not tell it"
        if base.alike is None else ""
    )  # fmt: skip


def _to_know(base: Baseline) -> Estimate:
    wald = math.ceil(units_for_share(base.share, HALF))
    by_wilson = next(n for n in range(1, 1000) if wilson_half(base.share, n) <= HALF)
    needed = math.ceil(max(wald, by_wilson) * base.effect)
    note = f"{base.told}; {max(wald, by_wilson)} if units were independent (Wald {wald}, Wilson {by_wilson})"
    if base.alike is not None:
        note += (
            f", times {base.effect:.2f} for {base.a_site:.3g} units a site (intraclass correlation {base.alike:.2f})"
        )
    method = "Wald's and Wilson's interval, the larger, times the design effect"
    made = Estimate("estimated", "units", base.n, "units", method, float(needed), note=note)
    return made.with_cautions(base.assumed, _beside(base))


def other_share(share: float, points: int) -> float | None:
    """The other fixing's share: better by so many points if there is room, else worse; None where neither fits."""
    return next((s for s in (share + points / 100, share - points / 100) if LEAST <= s <= MOST), None)


def _refused(base: Baseline, points: int, unit: str) -> Estimate:
    why = f"a difference of {points} points does not fit beside {base.told}"
    return not_estimable(why, unit=unit, n=base.n, n_of="units").with_cautions(base.assumed)


def _apart(base: Baseline, points: int) -> Estimate:
    other = other_share(base.share, points)
    if other is None:
        return _refused(base, points, "units a fixing")
    needed, arcsine = math.ceil(units_for_shares(base.share, other)), math.ceil(units_for_arcsine(base.share, other))
    note = f"{base.told}, against {other:.2f}; by the arcsine {arcsine}; {AIM}"
    if base.alike:
        note += f"; if whole sites get one fixing, times {base.effect:.2f}: {math.ceil(needed * base.effect)}"
    made = Estimate(
        "estimated", "units a fixing", base.n, "units", "normal test of two shares", float(needed), note=note
    )
    return made.with_cautions(base.assumed)


def _losses(base: Baseline, points: int) -> Estimate:
    other = other_share(base.share, points)
    if other is None:
        return _refused(base, points, "losses in all")
    ratio = math.log(base.share) / math.log(other)
    needed = math.ceil(losses_for_hazards(ratio))
    note = f"{base.told}, against {other:.2f}: hazards of {ratio:.2f} to 1; losses whose day is known; {AIM}"
    made = Estimate("estimated", "losses in all", base.n, "units", "Schoenfeld 1981", float(needed), note=note)
    return made.with_cautions(base.assumed)


def _power(base: Baseline, points: int, day: int, days: tuple[int, ...], missed: float) -> Estimate:
    unit, other = "chance", other_share(base.share, points)
    if not days:
        why = "no [[visit_plan]] of checks stands in programme.toml"
        return not_estimable(why, unit=unit, n=base.n, n_of="units")
    if base.assumed:
        why = "nothing to simulate with: the programme's own units tell nothing of that day"
        return not_estimable(why, unit=unit, n=base.n, n_of="units")
    if other is None:
        return _refused(base, points, unit)
    needed = math.ceil(units_for_shares(base.share, other))
    if 2 * needed > MOST_UNITS:
        why = f"{needed} units a fixing would be needed: more than is worth simulating"
        return not_estimable(why, unit=unit, n=base.n, n_of="units")
    found = power_by_visits(base.share, other, day, needed, Plan(days, missed, base.sites))
    low, high = wilson(found, RUNS)
    told = ", ".join(map(str, days))
    note = (
        f"{needed} units a fixing, {base.told}, against {other:.2f}, losses at a steady rate; checks on days {told}, {missed:.0%} "
        f"of them missed; {POWER:.0%} was planned for. The interval is the simulation's own"
    )
    method = f"{RUNS} simulated comparisons, Wilcoxon-type score for visit intervals"
    return Estimate("estimated", unit, RUNS, "simulations", method, found, low, high, note=note)
