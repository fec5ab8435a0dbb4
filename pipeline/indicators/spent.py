"""Sums of what was paid: in all, by site, partner, category, phase, sharing key and method, and what was planned."""

from collections import defaultdict
from collections.abc import Callable, Sequence
from fractions import Fraction

from pipeline.indicators.beside import beside, not_costed, unit_of, without
from pipeline.indicators.estimate import Estimate, not_estimable
from pipeline.indicators.figure import Figure, scope
from pipeline.indicators.paid import FORMS, Amount, Books, Paid, amounts, in_currency, originals
from pipeline.indicators.sharing import KEYS, Sums, by_method, by_site

SUM = "a sum of what was told: no interval"
UNNAMED = "costs of which nobody says who bore them, counted to who handed them in"


def spent(books: Books) -> list[Figure]:
    """Every sum, each form apart."""
    figures = []
    for form in FORMS:
        every = amounts(books, form)
        sums = by_site(books, every)
        figures += [*_parts(books, form, every), *_sites(books, form, every, sums), *_methods(books, form, every, sums)]
        figures += [*_any_key(books, form, every, sums), _planned(books, form)]
    return [*figures, *_valued(books)]


def _parts(books: Books, form: str, every: list[Amount]) -> list[Figure]:
    """The whole, and its parts by partner, category, phase and sharing key: those of a sort add up to it."""
    if not every:
        refusal = not_estimable("no such cost is recorded", unit=unit_of(books, form), n=0, n_of="costs")
        return [Figure(f"{form} in all", scope(site="all"), refusal.with_cautions(*beside(books, [], form)))]
    sorts: dict[str, Callable[[Paid], str]] = {
        "partner": lambda p: p.payer,
        "category": lambda p: p.category,
        "phase": lambda p: p.phase,
        "key": lambda p: p.share_key or "direct",
    }
    figures = [_sum(books, form, every, [not_costed(books)])]
    for name, of in sorts.items():
        groups: dict[str, list[Amount]] = defaultdict(list)
        for a in every:
            groups[of(a.paid)].append(a)
        for what, part in sorted(groups.items()):
            unnamed = sum(a.paid.unnamed for a in part) if name == "partner" else 0
            figures.append(_sum(books, form, part, [f"{UNNAMED}: {unnamed}"] if unnamed else [], **{name: what}))
    if books.monitoring:
        kept = [a for a in every if a.paid.phase not in books.monitoring]
        figures.append(_sum(books, form, kept, [], phase=without(books)))
    return figures


def _sum(books: Books, form: str, part: Sequence[Amount], more: Sequence[str], **of: str) -> Figure:
    n, unit = sum(a.paid.costs for a in part), unit_of(books, form)
    if not part:
        estimate = not_estimable("no such cost is recorded", unit=unit, n=0, n_of="costs")
    else:
        note = f"{SUM}; told as {originals(a.paid for a in part)}"
        estimate = Estimate("estimated", unit, n, "costs", "sum", sum(a.cents for a in part) / 100, note=note)
    return Figure(f"{form} in all", scope(site="all", **of), estimate.with_cautions(*beside(books, part, form), *more))


def _sites(books: Books, form: str, every: Sequence[Amount], sums: Sums) -> list[Figure]:
    """Direct and shared costs of each planted site."""
    told, unit, n = beside(books, every, form, sums), unit_of(books, form), _at_sites(books, every)
    figures = []
    for site, cents in sums.by_site.items():
        direct = sums.direct[site]
        own = originals(a.paid for a in every if a.paid.site == site)
        note = f"{SUM}; its own {direct / 100:.2f}{f', told as {own}' if own else ''}; of shared costs {(cents - direct) / 100:.2f}"
        estimate = Estimate(
            "estimated", unit, n[site], "costs", "sum, shared costs by their keys", cents / 100, note=note
        )
        if not cents:
            estimate = not_estimable(f"no {form} cost is recorded for this site", unit=unit, n=n[site], n_of="costs")
        figures.append(Figure(f"{form} in all", scope(site=site), estimate.with_cautions(*told)))
    return figures  # fmt: skip


def _at_sites(books: Books, every: Sequence[Amount]) -> dict[str, int]:
    """How many costs each site had a part in."""
    shared = sum(p.costs for p, _ in every if p.share_key is not None)
    n = dict.fromkeys(sorted(books.areas), shared)
    for p, _ in every:
        for site in [s for s, _ in p.parted] or [p.site or ""]:
            if site in n:
                n[site] += p.costs
    return n


def _methods(books: Books, form: str, every: Sequence[Amount], sums: Sums) -> list[Figure]:
    """Costs of each site by method, and of each method over all sites."""
    parts = by_method(books, every, sums)
    told = beside(books, every, form, sums)
    together: dict[str, int] = defaultdict(int)
    for (_, method), cents in parts.items():
        together[method] += cents
    units: dict[tuple[str, str], int] = defaultdict(int)
    for d in books.put_down:
        units[d.site, d.method] += d.units
        units["all", d.method] += d.units * (d.site in books.areas)
    figures = []
    for (site, method), cents in sorted({**parts, **{("all", m): c for m, c in together.items()}}.items()):
        note = f"{SUM}; what was for one unit went to its method, all else by the number of units"
        estimate = Estimate(
            "estimated",
            unit_of(books, form),
            units[site, method],
            "units",
            "sum, parted by units",
            cents / 100,
            note=note,
        )
        if not cents:
            estimate = not_estimable(
                "no such cost is recorded", unit=unit_of(books, form), n=units[site, method], n_of="units"
            )
        figures.append(Figure(f"{form} in all", scope(site=site, method=method), estimate.with_cautions(*told)))
    return figures  # fmt: skip


def _any_key(books: Books, form: str, every: Sequence[Amount], stated: Sums) -> list[Figure]:
    """From the least to the most that a site could be said to have cost, were all shared costs parted by one key."""
    told, unit = beside(books, every, form, stated), unit_of(books, form)
    shared = any(p.share_key for p, _ in every)
    tried = {key: by_site(books, every, key) for key in KEYS} if shared else {}
    by_key = {key: sums.by_site for key, sums in tried.items() if not sums.empty_keys}
    empty = ", ".join(key for key, sums in tried.items() if sums.empty_keys)
    figures = []
    for site in stated.by_site:
        if not by_key:
            why = "no cost is shared: no key matters" if not shared else "by no key is there anything to share by"
            estimate = not_estimable(why, unit=unit, n=len(KEYS), n_of="keys")
        else:
            found = [*(sums[site] for sums in by_key.values()), stated.by_site[site]]
            said = "; ".join(f"{key} {sums[site] / 100:.2f}" for key, sums in by_key.items())
            note = f"by any key: from {min(found) / 100:.2f} to {max(found) / 100:.2f}; as stated {stated.by_site[site] / 100:.2f}; {said}"
            if empty:
                note += f"; nothing to share by under {empty}: left unallocated there"
            estimate = Estimate(
                "bounded", unit, len(by_key), "keys", "all shared costs parted by each key in turn, largest remainder",
                value_from=min(found) / 100, value_to=max(found) / 100, note=note,
            )  # fmt: skip
        figures.append(Figure(f"{form} by any sharing key", scope(site=site), estimate.with_cautions(*told)))
    return figures


def _planned(books: Books, form: str) -> Figure:
    """What was planned to be paid; it is in no other figure."""
    planned = [p for p in books.planned if p.form == form]
    unit, n = unit_of(books, form), sum(p.costs for p in planned)
    if not planned:
        estimate = not_estimable("no budget is recorded", unit=unit, n=0, n_of="costs")
    else:
        cents = sum(in_currency(p.hundredths, p.per_unit) for p in planned)
        estimate = Estimate(
            "estimated", unit, n, "costs", "sum", cents / 100, note="a sum of what was planned: no interval"
        )
    return Figure(f"{form} budgeted", scope(site="all"), estimate)


def _valued(books: Books) -> list[Figure]:
    """Hours given in money, at the programme's stated rate: a layer of its own that is added to nothing."""
    name, unit = "value of hours", books.currency
    every = amounts(books, "hours")
    if books.hour_value is None or not every:
        why = "no hours are recorded" if not every else "programme.toml states no [hour_value]"
        return [Figure(name, scope(site="all"), not_estimable(why, unit=unit, n=len(every), n_of="costs"))]
    per_hour, dated, source = books.hour_value
    hours = sum(cents for _, cents in every)
    cents = round(Fraction(hours) * Fraction(per_hour))
    note = f"{hours / 100:.2f} hours at {per_hour.normalize():f} {unit} an hour ({source}, {dated}): no interval"
    n = sum(p.costs for p, _ in every)
    told = beside(books, every, "hours")
    return [
        Figure(name, scope(site="all"), Estimate("estimated", unit, n, "costs", "hours times a stated rate", cents / 100, note=note).with_cautions(*told))
    ]  # fmt: skip
