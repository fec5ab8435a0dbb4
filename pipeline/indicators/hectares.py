"""What a treated hectare cost, at each site and over the programme: cash, in kind and hours apart."""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from decimal import ROUND_HALF_EVEN, Decimal
from fractions import Fraction
from typing import NamedTuple

from pipeline.indicators.cost import ratio_of_totals, share_out
from pipeline.indicators.estimate import Estimate, not_estimable
from pipeline.indicators.figure import Figure, scope
from pipeline.indicators.remember import Memory
from pipeline.plural import n_of

FORMS = ("cash", "in kind", "hours")
M2_PER_HA = 10_000


class Paid(NamedTuple):
    """Money or hours in hundredths: for one site, shared by a key, or parted by units over sites.

    per_unit: units of the currency for one of the programme's; None for hours.
    parted: for a cutting's cost, how many of its units went to each site.
    """

    site: str | None
    share_key: str | None
    form: str
    currency: str | None
    per_unit: Decimal | None
    rate_dated: dt.date | None
    hundredths: int
    parted: tuple[tuple[str, int], ...] = ()


class Area(NamedTuple):
    """A site's planted units and treated area."""

    site: str
    units: int
    area_m2: Decimal


@dataclass(frozen=True)
class Sums:
    """Hundredths by site, what could not be shared out, and the currencies that were changed."""

    by_site: Mapping[str, int]
    unallocated: int
    changed: tuple[str, ...]


def hectares(
    paid: Iterable[Paid],
    areas: Iterable[Area],
    currency: str,
    trial_below_m2: Decimal,
    waiting: int,
    memory: Memory,
    idle_units: int = 0,
) -> list[Figure]:
    """Treated area and the three costs per hectare, for every site put down and for the programme.

    waiting: how many costs wait for a place or a rate, and so are in no figure. idle_units: units that wait or are in
    dispute, which have no area and carry no shared cost.
    """
    sites = {a.site: a for a in areas}
    figures = [
        Figure(
            "treated area",
            scope(site=a.site),
            Estimate("estimated", "m2", a.units, "units", "sum", float(a.area_m2)),
        )
        for a in sorted(sites.values())
    ]
    every = list(paid)
    beside = [f"units that wait or are in dispute, without area and share of costs: {idle_units}"] if idle_units else []
    for form in FORMS:
        sums = _sums([p for p in every if p.form == form], sites, every)
        unit = "hours per ha" if form == "hours" else f"{currency} per ha"
        figures += _per_hectare(form, unit, sums, sites, trial_below_m2, waiting, memory)
    return [replace(f, estimate=f.estimate.with_cautions(*beside)) for f in figures]


def _in_currency(p: Paid) -> int:
    """Hundredths of the programme's currency (or of an hour), rounded half to even."""
    if p.per_unit is None:
        return p.hundredths
    return int((Decimal(p.hundredths) / p.per_unit).to_integral_value(ROUND_HALF_EVEN))


def _sums(paid: list[Paid], sites: Mapping[str, Area], every: list[Paid]) -> Sums:
    """Direct costs first; then each shared pool is parted by its own key, in whole hundredths."""
    totals: dict[str, int] = defaultdict(int)
    pools: dict[str, int] = defaultdict(int)
    unallocated = 0
    for p in paid:
        amount = _in_currency(p)
        if p.share_key is not None:
            pools[p.share_key] += amount
        elif p.parted:
            parts = share_out(amount, dict(p.parted))
            for site, part in (parts or {}).items():
                totals[site] += part
        else:
            totals[p.site or ""] += amount
    for key, amount in sorted(pools.items()):
        parts = share_out(amount, _weights(key, sites, every))
        if parts is None:
            unallocated += amount
        for site, part in (parts or {}).items():
            totals[site] += part
    unallocated += sum(amount for site, amount in totals.items() if site not in sites)
    changed = sorted({p.currency for p in paid if p.currency and p.per_unit not in (None, 1)})
    return Sums({s: totals.get(s, 0) for s in sites}, unallocated, tuple(changed))


def _weights(key: str, sites: Mapping[str, Area], every: list[Paid]) -> dict[str, int | Fraction]:
    if key == "units":
        return {s: a.units for s, a in sites.items()}
    if key == "area":
        return {s: Fraction(a.area_m2) for s, a in sites.items()}
    if key == "equal":
        return dict.fromkeys(sites, 1)
    hours: dict[str, int | Fraction] = dict.fromkeys(sites, 0)
    for p in every:
        if p.form == "hours" and p.site in hours:
            hours[p.site] += p.hundredths
    return {s: max(h, 0) for s, h in hours.items()}  # more taken back than given is no share to carry


def _per_hectare(
    form: str,
    unit: str,
    sums: Sums,
    sites: Mapping[str, Area],
    trial_below_m2: Decimal,
    waiting: int,
    memory: Memory,
) -> list[Figure]:
    name = f"{form} per hectare"
    told = _cautions(form, sums, waiting)
    figures = []
    for site, area in sorted(sites.items()):
        amount, m2 = sums.by_site[site], area.area_m2
        if m2 <= 0 or amount == 0:
            why = "no area was treated" if m2 <= 0 else f"no {form} cost is recorded for this site"
            estimate = not_estimable(why, unit=unit, n=area.units, n_of="units")
        else:
            value = float(Fraction(amount, 100) / Fraction(m2) * M2_PER_HA)
            what = "hours" if form == "hours" else unit.split(maxsplit=1)[0]
            note = f"{amount / 100:.2f} {what} on {m2.normalize():f} m2; one site: no interval"
            estimate = Estimate("estimated", unit, area.units, "units", "cost over area", value, note=note)
            estimate = estimate.with_cautions(_trial(m2, trial_below_m2))
        figures.append(Figure(name, scope(site=site), estimate.with_cautions(*told)))
    figures.append(
        Figure(
            name,
            scope(site="all"),
            _programme(name, unit, sums, sites, trial_below_m2, memory).with_cautions(*told),
        )
    )
    return figures


def _programme(
    name: str, unit: str, sums: Sums, sites: Mapping[str, Area], trial_below_m2: Decimal, memory: Memory
) -> Estimate:
    used = [(sums.by_site[s] / 100, float(a.area_m2 / M2_PER_HA)) for s, a in sorted(sites.items()) if a.area_m2 > 0]
    total_m2 = sum((a.area_m2 for a in sites.values()), Decimal(0))
    if not used or not any(cost for cost, _ in used):
        why = "no area was treated" if not used else "no such cost is recorded"
        return not_estimable(why, unit=unit, n=len(used), n_of="sites")
    estimate = memory.recall(
        name,
        scope(site="all"),
        [*sorted(used), unit],
        lambda: ratio_of_totals([c for c, _ in used], [a for _, a in used], unit=unit),
    )
    without = ", ".join(s for s, a in sorted(sites.items()) if a.area_m2 > 0 and not sums.by_site[s])
    return estimate.with_cautions(
        f"on {total_m2.normalize():f} m2 treated in all",
        _trial(total_m2, trial_below_m2),
        f"no such cost is recorded for {without}: taken as nothing, so the true figure is higher" if without else "",
    )


def _trial(m2: Decimal, below: Decimal) -> str:
    asked = f"under the {below.normalize():f} m2 that the programme asks for"
    return f"trial cost, do not scale: {asked}" if m2 < below else ""


def _cautions(form: str, sums: Sums, waiting: int) -> list[str]:
    cautions = []
    if sums.changed:
        cautions.append(
            "changed from " + ", ".join(sums.changed) + " at the programme's dated rates; the interval leaves rates out"
        )
    if sums.unallocated:
        cautions.append(f"{sums.unallocated / 100:.2f} could not be given to a planted site and is left out")
    if waiting and form != "hours":
        cautions.append(
            f"{n_of(waiting, 'cost waits', 'costs wait')} for a place or a rate and {'is' if waiting == 1 else 'are'} left out"
        )
    return cautions
