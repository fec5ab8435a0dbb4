"""What each method cost where it can be told apart: per hectare of plots of its own, and per recruit beyond control."""

import math
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import replace
from decimal import Decimal
from typing import NamedTuple

from pipeline.indicators.beside import trial
from pipeline.indicators.by_method import BEYOND
from pipeline.indicators.cost import ratio_of_totals
from pipeline.indicators.estimate import Estimate, not_estimable
from pipeline.indicators.figure import Figure, scope
from pipeline.indicators.left_out import NOT_FAIR, named
from pipeline.indicators.outcomes import WHOLE_COST, over, total
from pipeline.indicators.paid import FORMS

PER_HECTARE, PER_RECRUIT = "per hectare by method", "per recruit by method"
MIXED = "left out, since other methods lie in the same plots:"


class MethodArea(NamedTuple):
    """Units of a method at a site, those of them in plots of its own, and the treated area of these plots in m2."""

    units: int
    alone: int
    area_m2: Decimal | None


Areas = Mapping[str, Mapping[str, MethodArea]]  # method -> site


def methods(made: Sequence[Figure], areas: Areas, trial_below_m2: Decimal) -> list[Figure]:
    """Both costs of every method and form, from sums of costs by method and recruits beyond control. made: those figures."""
    first = _first_fair(made)
    figures = []
    for form in FORMS:
        paid = {
            (f.of("method"), f.of("site")): f
            for f in made
            if f.indicator == f"{form} in all" and f.of("method") and f.of("site") != "all"
        }
        for method, sites in sorted(areas.items()):
            own = {s: a for s, a in sites.items() if a.alone == a.units and a.area_m2 and (method, s) in paid}
            costs = {s: paid[method, s].estimate for s in own}
            beside = [
                *_left_out(MIXED, set(sites) - set(own)),
                *sorted({c for e in costs.values() for c in e.cautions}),
            ]
            what = scope(site="all", method=method)
            estimate = _per_hectare(costs, own, trial_below_m2, _unit(paid, form))
            figures.append(Figure(f"{form} {PER_HECTARE}", what, estimate.with_cautions(*beside)))
            figures += [
                _per_recruit(form, of, method, rounds, costs, sites, _unit(paid, form), beside)
                for (of, whose), rounds in sorted(first.items())
                if whose == method
            ]
    return figures


def _unit(paid: Mapping[tuple[str, str], Figure], form: str) -> str:
    return next((f.estimate.unit for _, f in sorted(paid.items())), "hours" if form == "hours" else "currency")


def _left_out(why: str, sites: set[str]) -> list[str]:
    return [f"{why} {named(sorted(sites))}"] if sites else []


Of = tuple[str, str]  # species, protocol


def _first_fair(made: Sequence[Figure]) -> dict[tuple[Of, str], dict[str, Figure]]:
    """Recruits beyond control of each site's first round that has a fair comparison, by species, protocol and method."""
    first: dict[tuple[Of, str], dict[str, Figure]] = defaultdict(dict)
    for f in sorted((f for f in made if f.indicator == BEYOND), key=lambda f: (f.of("survey"), f.scope)):
        rounds = first[(f.of("species"), f.of("protocol")), f.of("method")]
        if f.estimate.value is not None:
            rounds.setdefault(f.of("site"), f)
    return first


def _per_hectare(
    costs: Mapping[str, Estimate], own: Mapping[str, MethodArea], trial_below_m2: Decimal, unit: str
) -> Estimate:
    if not own:
        why = "at no site does it lie in plots of its own, so its area cannot be told from that of others"
        return not_estimable(why, unit=f"{unit} per ha", n=0, n_of="sites")
    if not any(e.value for e in costs.values()):
        return not_estimable("no such cost is recorded", unit=f"{unit} per ha", n=len(own), n_of="sites")
    area = sum((a.area_m2 or Decimal(0) for a in own.values()), Decimal(0))
    hectares = [float((a.area_m2 or Decimal(0)) / 10_000) for a in own.values()]
    e = ratio_of_totals([costs[s].value or 0.0 for s in own], hectares, unit=f"{unit} per ha")
    paid = math.fsum(c.value or 0.0 for c in costs.values())
    note = f"{paid:.2f} {unit} on {area.normalize():f} m2; {e.note}"
    return replace(e, note=note).with_cautions(trial(area, trial_below_m2))


def _per_recruit(
    form: str, of: Of, method: str, rounds: Mapping[str, Figure], costs: Mapping[str, Estimate], sites: Mapping[str, MethodArea],
    unit: str, beside: Sequence[str],
) -> Figure:  # fmt: skip
    used = {s: f for s, f in sorted(rounds.items()) if s in costs}
    what = scope(site="all", species=of[0], stage="recruit", protocol=of[1], method=method)
    name, unit_each = f"{form} {PER_RECRUIT}", f"{unit} per recruit"
    paid = math.fsum(costs[s].value or 0.0 for s in used)
    recruits = total([(f.estimate, 1.0) for f in used.values()])
    if not used:
        why = "at no site can its recruits beyond control be told"
    elif not paid:
        why = "no such cost is recorded"
    elif isinstance(recruits, str):
        why = recruits
    elif recruits[1] <= 0:
        why = (
            f"cannot tell whether there are more recruits than in control plots ({recruits[1]:.4g} to {recruits[2]:.4g} beyond "
            "them): a cost per recruit would be made of chance"
        )
    else:
        value, low, high = recruits
        how = "sum of recruits beyond control, MOVER"
        part = Estimate("estimated", "recruits", len(used), "sites", how, value, low, high)
        told = (
            f"{paid:.2f} {unit} for {value:.4g} ({low:.4g} to {high:.4g}) recruits beyond control at {', '.join(used)}"
        )
        estimate = over(paid, part, 1, unit_each, told, "there are none")
        fair = _left_out(NOT_FAIR, set(sites) - set(used))
        own = {f"{s}: {c}" for s, f in used.items() for c in f.estimate.cautions}
        return Figure(name, what, estimate.with_cautions(WHOLE_COST, *beside, *fair, *own))
    refusal = not_estimable(why, unit=unit_each, n=len(used), n_of="sites")
    return Figure(name, what, refusal.with_cautions(*_left_out(NOT_FAIR, set(sites) - set(used))))
