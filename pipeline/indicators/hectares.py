"""What a treated hectare cost, at each site and over the programme: cash, in kind and hours apart."""

from collections.abc import Mapping, Sequence
from decimal import Decimal
from fractions import Fraction

from pipeline.indicators.beside import beside, not_costed, trial, unit_of, without
from pipeline.indicators.cost import ratio_of_totals
from pipeline.indicators.estimate import Estimate, not_estimable
from pipeline.indicators.figure import Figure, scope
from pipeline.indicators.paid import FORMS, Amount, Area, Books, amounts
from pipeline.indicators.remember import Memory
from pipeline.indicators.sharing import Sums, by_site

M2_PER_HA = 10_000


def hectares(books: Books, memory: Memory) -> list[Figure]:
    """Treated area and the three costs per hectare, with and without monitoring, for every site and the programme."""
    figures = []
    for area in sorted(books.areas.values()):
        estimate = Estimate("estimated", "m2", area.units, "units", "sum", float(area.area_m2))
        idle = beside(books, [], "hours", Sums({}, {}, 0))  # units without area
        figures.append(Figure("treated area", scope(site=area.site), estimate.with_cautions(*idle)))
    for form in FORMS:
        every = amounts(books, form)
        figures += per_hectare(books, f"{form} per hectare", form, every, None, [not_costed(books)], memory)
        if books.monitoring:
            kept = [a for a in every if a.paid.phase not in books.monitoring]
            name = f"{form} per hectare without monitoring"
            figures += per_hectare(books, name, form, kept, without(books), [not_costed(books)], memory)
    return figures


def per_hectare(
    books: Books,
    name: str,
    form: str,
    paid: Sequence[Amount],
    phase: str | None,
    of_all: Sequence[str],
    memory: Memory,
    how: str = "",
) -> list[Figure]:
    """One cost of a form over treated area: of each site, and of all.

    of_all: what to beware of beside the figure of all sites. how: at what prices, where not at those of their day.
    """
    sums, unit = by_site(books, paid), unit_of(books, form, "ha")
    told = beside(books, paid, form, sums, how)
    figures = []
    for site, area in sorted(books.areas.items()):
        estimate = _site(books, form, unit, sums.by_site[site], area).with_cautions(*told)
        figures.append(Figure(name, scope(site=site, phase=phase), estimate))
    what = scope(site="all", phase=phase)
    together = _programme(books, name, unit, sums.by_site, memory).with_cautions(*told, *of_all)
    return [*figures, Figure(name, what, together)]


def _site(books: Books, form: str, unit: str, cents: int, area: Area) -> Estimate:
    m2 = area.area_m2
    if m2 <= 0 or cents == 0:
        why = "no area was treated" if m2 <= 0 else f"no {form} cost is recorded for this site"
        return not_estimable(why, unit=unit, n=area.units, n_of="units")
    value = float(Fraction(cents, 100) / Fraction(m2) * M2_PER_HA)
    note = f"{cents / 100:.2f} {unit_of(books, form)} on {m2.normalize():f} m2; one site: no interval"
    estimate = Estimate("estimated", unit, area.units, "units", "cost over area", value, note=note)
    return estimate.with_cautions(trial(m2, books.trial_below_m2))


def _programme(books: Books, name: str, unit: str, cents: Mapping[str, int], memory: Memory) -> Estimate:
    sites = books.areas
    used = [(cents[s] / 100, float(a.area_m2 / M2_PER_HA)) for s, a in sorted(sites.items()) if a.area_m2 > 0]
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
    without_cost = ", ".join(s for s, a in sorted(sites.items()) if a.area_m2 > 0 and not cents[s])
    return estimate.with_cautions(
        f"on {total_m2.normalize():f} m2 treated in all",
        trial(total_m2, books.trial_below_m2),
        f"no such cost is recorded for {without_cost}: taken as nothing, so the true figure is higher" if without_cost else "",
    )  # fmt: skip
