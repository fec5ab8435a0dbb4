"""Costs in the prices of one year: each currency by its own index first, changed at that year's mean rate afterwards."""

from pipeline.indicators.beside import beside, unit_of
from pipeline.indicators.estimate import Estimate, not_estimable
from pipeline.indicators.figure import Figure, scope
from pipeline.indicators.hectares import per_hectare
from pipeline.indicators.paid import Books, amounts, at_base, originals
from pipeline.indicators.remember import Memory

MONEY = ("cash", "in kind")  # an hour stays an hour


def base_year(books: Books, memory: Memory) -> list[Figure]:
    """Money in all and per hectare in base-year prices; a refusal that names what is missing."""
    figures = []
    for form in MONEY:
        names = (f"{form} in base-year prices", f"{form} per hectare in base-year prices")
        paid, prices = amounts(books, form), books.prices
        told, missing = at_base(books, prices, form) if prices else ([], ["programme.toml states no base_year"])
        if not paid:
            missing = ["no such cost is recorded"]
        if missing or prices is None:
            n = sum(p.costs for p, _ in paid)
            for name, per in zip(names, ("", "ha"), strict=True):
                refusal = not_estimable("; ".join(missing), unit=unit_of(books, form, per), n=n, n_of="costs")
                figures.append(Figure(name, scope(site="all"), refusal))
            continue
        nominal = sum(a.cents for a in paid) / 100
        how = (
            f"in prices of {prices.base_year}: each currency by its own index first, then changed at the mean rate of "
            f"{prices.base_year} ({prices.told})"
        )
        cents = sum(a.cents for a in told)
        n = sum(p.costs for p, _ in paid)
        note = f"as paid {nominal:.2f}, told as {originals(p for p, _ in paid)}; a sum of what was told: no interval"
        estimate = Estimate("estimated", books.currency, n, "costs", "sum in base-year prices", cents / 100, note=note)
        figures.append(Figure(names[0], scope(site="all"), estimate.with_cautions(*beside(books, told, form, how=how))))
        figures += per_hectare(books, names[1], form, told, None, [], memory, how)
    return figures
