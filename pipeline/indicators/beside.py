"""What a reader must know beside a figure of costs: rates, what is left out, tax, what is not costed."""

from collections.abc import Iterable, Sequence
from decimal import Decimal

from pipeline.indicators.paid import Amount, Books, Paid, in_currency
from pipeline.indicators.sharing import Sums
from pipeline.plural import n_of

LASTING = "of things that last only what is used up so far counts"  # such figures depend on the last day told of
ALL_BUT = "all but "  # how the scope of a figure without some phases begins
PHASES = ("plan and permit", "collect", "culture", "prepare", "deploy", "monitor", "report", "overhead")


def beside(books: Books, amounts: Sequence[Amount], form: str, sums: Sums | None = None, how: str = "") -> list[str]:
    """Cautions of the figures made of these costs.

    sums: how they were given to sites, where they were. how: at what prices and rates, where not at those of their day.
    """
    paid = [p for p, _ in amounts]
    cautions = [*([how] if how else _changed(books, paid)), _lasting(amounts), _tax(paid)]
    if lifeless := sum(p.lifeless for p in paid):
        cautions.append(f"capital costs that nobody says how long they last, counted whole: {lifeless}")
    if sums is not None and sums.unallocated:
        why = f" (nothing to share by: {', '.join(sums.empty_keys)})" if sums.empty_keys else ""
        cautions.append(f"{sums.unallocated / 100:.2f} could not be given to a planted site and is left out{why}")
    if form != "hours":
        cautions.append(left_waiting(books.waiting))
    if books.idle_units and sums is not None:
        cautions.append(f"units that wait or are in dispute, without area and share of costs: {books.idle_units}")
    return cautions


def not_costed(books: Books) -> str:
    """The phases of the work for which nothing at all was told: neither money nor gifts nor hours."""
    met = {p.phase for p in books.paid}
    bare = [phase for phase in PHASES if phase not in met]
    return f"not costed, in any form: {', '.join(bare)}" if bare and met else ""


def without(books: Books) -> str:
    """What the scope of costs without monitoring says of their phase."""
    return ALL_BUT + ", ".join(books.monitoring)


def left_waiting(costs: int) -> str:
    """What is said of so many costs that wait, "" if none does."""
    told = n_of(costs, "cost waits", "costs wait")
    return f"{told} for a place or a rate and {'is' if costs == 1 else 'are'} left out" if costs else ""


def trial(m2: Decimal, below: Decimal) -> str:
    """A price of a few square metres is no price."""
    asked = f"under the {below.normalize():f} m2 that the programme asks for"
    return f"trial cost, do not scale: {asked}" if m2 < below else ""


def unit_of(books: Books, form: str, per: str = "") -> str:
    """The unit of a figure, such as "EUR per ha"."""
    return ("hours" if form == "hours" else books.currency) + (f" per {per}" if per else "")


def _changed(books: Books, paid: Iterable[Paid]) -> list[str]:
    """Each currency that was changed, at rates of which days, and who published them."""
    days: dict[str, set[str]] = {}
    for p in paid:
        if p.currency and p.currency != books.currency and p.rate_dated:
            days.setdefault(p.currency, set()).add(p.rate_dated.isoformat())
    currencies, source = books.published
    told = []
    for currency, dated in sorted(days.items()):
        first, last = min(dated), max(dated)
        of = f"the rate of {first}" if first == last else f"rates of {first} to {last}"
        whose = (
            f"published by {source}, each the last on or before its cost's day"
            if currency in currencies
            else "the programme's own"
        )
        told.append(f"changed from {currency} at {of} ({whose}); intervals leave rates out")
    return told  # fmt: skip


def _lasting(amounts: Sequence[Amount]) -> str:
    spread = [(p, cents) for p, cents in amounts if p.life_years is not None]
    if not spread:
        return ""
    whole = sum(in_currency(p.hundredths, p.per_unit) for p, _ in spread)
    return f"{LASTING}: {sum(c for _, c in spread) / 100:.2f} of {whole / 100:.2f}, in a straight line over their useful life"


def _tax(paid: Sequence[Paid]) -> str:
    """Said only where costs differ in it."""
    taxed, untaxed, every = sum(p.taxed for p in paid), sum(p.untaxed for p in paid), sum(p.costs for p in paid)
    parts = [(taxed, "with tax"), (untaxed, "without"), (every - taxed - untaxed, "not said")]
    met = [f"{n} {what}" for n, what in parts if n]
    return f"some costs hold tax and some may not: {', '.join(met)}" if len(met) > 1 and taxed + untaxed else ""
