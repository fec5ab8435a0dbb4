"""What was paid for what came of it: per unit that still held, per recruit, per hectare that met the programme's rule.

The costs are those told until now, exact; the intervals are those of what they are divided by.
"""

import datetime as dt
import math
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from decimal import Decimal
from typing import NamedTuple

from pipeline.indicators.beside import beside, trial, unit_of
from pipeline.indicators.estimate import Estimate, not_estimable
from pipeline.indicators.figure import Figure, scope
from pipeline.indicators.paid import FORMS, Amount, Books, amounts
from pipeline.indicators.sharing import Sums, by_method, by_site
from pipeline.indicators.success import CANNOT_TELL, MET, NOT_MET
from pipeline.indicators.success import NAME as VERDICT

RETAINED, RECRUIT, MEETING = "per retained unit", "per recruit", "per hectare meeting the rule"
HELD = ("unit retention", "unit retention over sites")
DIFFERENCE = "treated minus control"
WHOLE_COST = "the whole cost until now, set against the recruits of one species in one round"


class _Costs(NamedTuple):
    """The costs of a form, given to sites, and what stands beside them."""

    form: str
    sums: Sums
    by_method: Mapping[tuple[str, str], int]
    told: Sequence[str]


def outcomes(
    books: Books, made: Iterable[Figure], release_day: int, recruits_from: Mapping[str, dt.date], plots_whole: bool
) -> list[Figure]:
    """Each form of cost per unit held at the release window, per recruit, per hectare meeting a rule.

    made: the figures of other groups. recruits_from: the day at each site before which none can be expected. plots_whole: treated area is the area of plots, over which frames were laid.
    """
    by_name: dict[str, list[Figure]] = defaultdict(list)
    for f in made:
        by_name[f.indicator].append(f)
    held = [f for name in HELD for f in by_name[name] if f.of("day") == str(release_day)]
    more = _first_rounds(by_name[DIFFERENCE], recruits_from)
    figures = []
    for form in FORMS:
        paid = amounts(books, form)
        costs = _costs(books, form, paid)
        figures += _per_retained(books, costs, held, release_day)
        figures += _per_recruit(books, costs, more, plots_whole)
        figures += _per_meeting(books, costs, by_name[VERDICT])
    return figures


def _costs(books: Books, form: str, paid: Sequence[Amount]) -> _Costs:
    sums = by_site(books, paid)
    return _Costs(form, sums, by_method(books, paid, sums), beside(books, paid, form, sums))


def _per_retained(books: Books, costs: _Costs, held: Sequence[Figure], day: int) -> list[Figure]:
    """Cost of a site's units of a method over how many of them still held at the end of the release window."""
    name, unit = f"{costs.form} {RETAINED}", unit_of(books, costs.form, "retained unit")
    if not held:
        why = f"no retention is told for day {day}, the end of the release window: add it to retention_days"
        return [Figure(name, scope(site="all"), not_estimable(why, unit=unit, n=0, n_of="units"))]
    figures = []
    for f in held:
        site, method = f.of("site"), f.of("method")
        down = [d for d in books.put_down if d.method == method and d.site in books.areas and site in ("all", d.site)]
        units, lots = sum(d.pieces for d in down), sum(d.lots for d in down)
        cents = sum(costs.by_method.get((d.site, method), 0) for d in down)
        if lots:
            why = f"{lots} of these were loads without tags, of which nobody knows how many held"
        elif not cents:
            why = "no such cost is recorded"
        else:
            why = ""
        if why:
            estimate = not_estimable(why, unit=unit, n=units, n_of="units")
        else:
            paid = f"{cents / 100:.2f} {unit_of(books, costs.form)} for {units} put down"
            estimate = over(cents / 100, f.estimate, units, unit, paid, "none of them held")
        figures.append(Figure(name, f.scope, estimate.with_cautions(*costs.told)))
    return figures


def over(cost: float, part: Estimate, times: float, unit: str, paid: str, nothing: str) -> Estimate:
    """An exact cost over an estimated quantity: its limits turned over; bounds where it is bounded.

    cost     in whole units of money or hours. part times `times` is what it is divided by.
    nothing  what it means when that is 0, in words.

    Where the quantity may be 0 there is no upper limit, and a note says what it costs at least.
    """
    how = f"cost over {part.estimator}"
    if part.state == "not estimable":
        return not_estimable(part.note, unit=unit, n=part.n, n_of=part.n_of).with_cautions(*part.cautions)
    if cost <= 0:
        return not_estimable(f"{paid}: more was given back than paid", unit=unit, n=part.n, n_of=part.n_of)
    least, most = (part.value_from, part.value_to) if part.state == "bounded" else (part.value, part.value)
    if least is None or most is None or least <= 0:
        at_least = f", at least {cost / (most * times):.4g} {unit}" if most else ""
        why = f"{paid}, but it may be that {nothing}{at_least}"
        return not_estimable(why, unit=unit, n=part.n, n_of=part.n_of).with_cautions(*part.cautions)
    low, high = _turned(cost, part, times)
    notes = [paid, "the interval is that of what the cost is divided by; the cost is taken as exact"]
    if low is None and part.low is None:
        notes[1] = "no interval: what the cost is divided by has none"
    elif low is None:
        floor = f", so only: at least {cost / (part.high * times):.4g}" if part.high else ""
        notes[1] = f"no interval: it may be that {nothing}{floor}"
    notes += [part.note] if part.note else []
    bounds = (cost / (most * times), cost / (least * times))
    if part.state == "bounded":
        estimate = Estimate(
            "bounded", unit, part.n, part.n_of, how, low=low, high=high, value_from=bounds[0], value_to=bounds[1]
        )
    else:
        estimate = Estimate("estimated", unit, part.n, part.n_of, how, bounds[0], low, high)
    return replace(estimate, note="; ".join(notes)).with_cautions(*part.cautions)  # fmt: skip


def _turned(cost: float, part: Estimate, times: float) -> tuple[float | None, float | None]:
    """Both limits of the cost, or neither where what it is divided by may be 0."""
    if part.low is None or part.high is None or part.low <= 0:
        return None, None
    return cost / (part.high * times), cost / (part.low * times)


def _first_rounds(differences: Iterable[Figure], from_day: Mapping[str, dt.date]) -> list[Figure]:
    """Differences of recruits, of each site, species and protocol: of the first round in which recruits can be expected
    and both sorts of plots can be compared; where there is none, of the last round."""
    chosen: dict[tuple[str, ...], Figure] = {}
    for f in sorted((f for f in differences if f.of("stage") == "recruit"), key=lambda f: f.of("survey"), reverse=True):
        what, day = (f.of("site"), f.of("species"), f.of("protocol")), from_day.get(f.of("site"))
        due = day is not None and f.of("survey") >= day.isoformat()
        if what not in chosen or (due and f.estimate.value is not None):
            chosen[what] = f
    return [f for _, f in sorted(chosen.items())]


def _per_recruit(books: Books, costs: _Costs, more: Sequence[Figure], plots_whole: bool) -> list[Figure]:
    """Cost of a site over the recruits that it has beyond its control, and of all sites over all of theirs."""
    name, unit = f"{costs.form} {RECRUIT}", unit_of(books, costs.form, "recruit")
    if not more:
        why = "no recruits were counted in treated and control plots of the same round"
        return [Figure(name, scope(site="all"), not_estimable(why, unit=unit, n=0, n_of="frames"))]
    together: dict[tuple[str, str], dict[str, Figure]] = defaultdict(dict)
    figures = []
    for f in more:
        site = f.of("site")
        if site not in books.areas:
            continue
        together[f.of("species"), f.of("protocol")][site] = f
        estimate = _beyond_control(books, costs, [f], plots_whole, unit)
        figures.append(Figure(name, f.scope, estimate.with_cautions(*f.estimate.cautions, *costs.told)))
    for (species, protocol), sites in sorted(together.items()):
        bare = ", ".join(s for s in sorted(books.areas) if s not in sites)
        if bare:
            estimate = not_estimable(
                f"no comparison with control plots at {bare}", unit=unit, n=len(sites), n_of="sites"
            )
        else:
            estimate = _beyond_control(books, costs, list(sites.values()), plots_whole, unit)
            estimate = estimate.with_cautions(*(f"{s}: {c}" for s, f in sites.items() for c in f.estimate.cautions))
        what = scope(site="all", species=species, stage="recruit", protocol=protocol)
        figures.append(Figure(name, what, estimate.with_cautions(*costs.told)))
    return figures  # fmt: skip


def _beyond_control(books: Books, costs: _Costs, more: Sequence[Figure], plots_whole: bool, unit: str) -> Estimate:
    """The cost of these sites over their recruits beyond control: difference per m2 times treated m2, added up."""
    n = sum(f.estimate.n for f in more)
    cents = sum(costs.sums.by_site[f.of("site")] for f in more)
    area = sum(float(books.areas[f.of("site")].area_m2) for f in more)
    recruits = total([(f.estimate, float(books.areas[f.of("site")].area_m2)) for f in more])
    if not plots_whole:
        why = "treated area is told per unit, and frames are laid over whole plots: recruits cannot be scaled up"
    elif not cents:
        why = "no such cost is recorded"
    elif isinstance(recruits, str):
        why = recruits
    elif recruits[1] <= 0:
        why = (
            f"cannot tell whether there are more recruits than in control plots ({recruits[1]:.4g} to {recruits[2]:.4g} "
            "beyond them): a cost per recruit would be made of chance"
        )
    else:
        value, low, high = recruits
        part = Estimate("estimated", "recruits", n, "frames", "recruits beyond control, MOVER", value, low, high)
        paid = f"{cents / 100:.2f} {unit_of(books, costs.form)} for {value:.4g} ({low:.4g} to {high:.4g}) recruits beyond control on {area:g} m2"
        return over(cents / 100, part, 1, unit, paid, "there are none").with_cautions(WHOLE_COST)
    return not_estimable(why, unit=unit, n=n, n_of="frames")


def total(parts: Sequence[tuple[Estimate, float]]) -> tuple[float, float, float] | str:
    """Sum of independent estimates times their areas with its 95 % limits; or why there is none.

    Sources: Zou & Donner 2008, Stat. Med. 27:1693 (limits of a sum recovered from those of its parts).
    """
    value, down, up = [], [], []
    for e, area in sorted(parts, key=lambda p: (p[0].value or 0.0, p[1])):
        if e.value is None or e.low is None or e.high is None:
            return e.note or "the difference to control plots has no interval"
        value.append(e.value * area)
        down.append((e.value - e.low) * area)
        up.append((e.high - e.value) * area)
    middle = math.fsum(value)
    return middle, middle - math.hypot(*down), middle + math.hypot(*up)


def _per_meeting(books: Books, costs: _Costs, verdicts: Sequence[Figure]) -> list[Figure]:
    """Cost of all sites over the treated area of those whose last verdict under a success rule is met.

    Sites of which nobody can tell, or that were not judged yet, part the figure into bounds.
    """
    name, unit = f"{costs.form} {MEETING}", unit_of(books, costs.form, "ha")
    last: dict[str, dict[str, Figure]] = defaultdict(dict)
    for f in sorted(verdicts, key=lambda f: (f.of("survey"), f.scope)):
        last[f.of("rule")][f.of("site")] = f
    if not last:
        return [Figure(name, scope(site="all"), not_estimable("no success rule is set", unit=unit, n=0, n_of="sites"))]
    figures = []
    for rule, judged in sorted(last.items()):
        met = [s for s in books.areas if s in judged and _verdict(judged[s]) == MET]
        unsure = [s for s in books.areas if s not in judged or _verdict(judged[s]) == CANNOT_TELL]
        estimate = _over_area(books, costs, unit, met, unsure).with_cautions(
            *costs.told,
            *(c for f in judged.values() for c in f.estimate.cautions if c.startswith("written afterwards")),
        )
        figures.append(Figure(name, scope(site="all", rule=rule), estimate))
    return figures


def _verdict(f: Figure) -> str:
    return next(v for v in (CANNOT_TELL, NOT_MET, MET) if f.estimate.note.startswith(v))


def _over_area(books: Books, costs: _Costs, unit: str, met: list[str], unsure: list[str]) -> Estimate:
    cents, n = sum(costs.sums.by_site.values()), len(books.areas)
    least = sum((books.areas[s].area_m2 for s in met), Decimal(0))
    most = least + sum((books.areas[s].area_m2 for s in unsure), Decimal(0))
    if not cents or not most:
        why = "no such cost is recorded" if not cents else "no treated area meets it"
        return not_estimable(why, unit=unit, n=n, n_of="sites")
    told = f"{least.normalize():f} m2 meet it" + (f" ({', '.join(sorted(met))})" if met else "")
    note = f"{cents / 100:.2f} {unit_of(books, costs.form)} at all sites; {told}"
    per = [cents / 100 / float(m2 / 10_000) if m2 else None for m2 in (most, least)]
    if unsure:
        note += f"; of {', '.join(sorted(unsure))} nobody can tell: from, as if all met it, to, as if none did"
        return Estimate("bounded", unit, n, "sites", "cost over area", value_from=per[0], value_to=per[1], note=note)
    estimate = Estimate("estimated", unit, n, "sites", "cost over area", per[1], note=f"{note}; no interval")
    return estimate.with_cautions(trial(least, books.trial_below_m2))
