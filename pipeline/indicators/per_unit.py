"""What a thing put down cost, by site and method, and by method over all sites."""

from collections import defaultdict
from collections.abc import Sequence
from fractions import Fraction
from functools import partial

from pipeline.indicators.beside import beside, unit_of
from pipeline.indicators.cost import ratio_of_totals
from pipeline.indicators.estimate import Estimate, not_estimable
from pipeline.indicators.figure import Figure, scope
from pipeline.indicators.paid import FORMS, Books, PutDown, amounts
from pipeline.indicators.remember import Memory
from pipeline.indicators.sharing import by_method, by_site


def per_unit(books: Books, memory: Memory) -> list[Figure]:
    """Each form of cost over the pieces put down, at each site and over the sites of a method."""
    methods: dict[str, list[PutDown]] = defaultdict(list)
    for d in sorted(books.put_down):
        if d.site in books.areas:
            methods[d.method].append(d)
    figures = []
    for form in FORMS:
        paid = amounts(books, form)
        sums = by_site(books, paid)
        cents, unit = by_method(books, paid, sums), unit_of(books, form, "unit")
        told, name = beside(books, paid, form, sums), f"{form} per unit"
        for method, down in sorted(methods.items()):
            for d in down:
                estimate = _site(books, form, d, cents.get((d.site, method), 0))
                figures.append(Figure(name, scope(site=d.site, method=method), estimate.with_cautions(*told)))
            used = sorted((cents.get((d.site, method), 0) / 100, float(d.pieces)) for d in down)
            if any(cost for cost, _ in used):
                compute = partial(_over_sites, used, unit)
                estimate = memory.recall(name, scope(site="all", method=method), [used, unit], compute)
            else:
                estimate = not_estimable("no such cost is recorded", unit=unit, n=len(used), n_of="sites")
            estimate = estimate.with_cautions(*told, lots(down))
            figures.append(Figure(name, scope(site="all", method=method), estimate))
    return figures


def lots(down: Sequence[PutDown]) -> str:
    """That pieces of loads count one by one."""
    n = sum(d.lots for d in down)
    return f"loads without tags count by their pieces: {n}" if n else ""


def _site(books: Books, form: str, d: PutDown, cents: int) -> Estimate:
    unit = unit_of(books, form, "unit")
    if not cents:
        return not_estimable(f"no {form} cost is recorded for this site", unit=unit, n=d.pieces, n_of="units")
    note = f"{cents / 100:.2f} {unit_of(books, form)} for {d.pieces} put down; one site: no interval"
    value = float(Fraction(cents, 100) / d.pieces)
    return Estimate("estimated", unit, d.pieces, "units", "cost over units", value, note=note).with_cautions(lots([d]))


def _over_sites(used: list[tuple[float, float]], unit: str) -> Estimate:
    return ratio_of_totals([c for c, _ in used], [n for _, n in used], unit=unit, over="units")
