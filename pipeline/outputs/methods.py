"""What is known of each method, a table each, for the screen."""

from collections.abc import Sequence
from textwrap import wrap

from pipeline.indicators.figure import Figure
from pipeline.outputs.layout import WIDTH, interval_text, table, value_text
from pipeline.outputs.summary import Footnotes
from pipeline.plural import n_of

PUT_DOWN = "gear not accounted for"  # of a method: n counts everything that was put down
FORMS = ("cash", "in kind", "hours")
ROWS = {
    "recruits beyond control by method": "recruits beyond control",
    "unit retention over sites": "attached after {day} days",
    **{f"{form} per hectare by method": f"{form} per treated hectare" for form in FORMS},
    **{f"{form} per recruit by method": f"{form} per recruit" for form in FORMS},
}
CAVEAT = (
    "A method's figures are over the sites where it can be told apart: it alone lies in plots of its own, and these are fairly "
    "compared with control plots. Sites that are left out are named in the notes, so methods are not always over the same sites. "
    "Intervals that overlap leave it open which is better. Loads without tags have no retention: see pieces found of lots. Costs were "
    "parted over methods by the number of units wherever nobody said for which a bill was."
)


def compared(figures: Sequence[Figure]) -> list[Figure]:
    """The figures that these tables hold, method by method."""
    found = [f for f in figures if f.indicator in ROWS and f.of("site") == "all" and f.of("method")]
    order = list(ROWS)
    return sorted(
        found, key=lambda f: (f.of("method"), order.index(f.indicator), f.of("species"), int(f.of("day") or 0))
    )


def methods(figures: Sequence[Figure], as_of: str, name: str, width: int = WIDTH) -> str:
    """A table a method: what it brought, how it held and what it cost, each with its interval, at common days."""
    notes, told = Footnotes(), compared(figures)
    lines = wrap(f"{name}, methods side by side, as of {as_of}.", width)
    for method in sorted({f.of("method") for f in told}):
        mine = [f for f in told if f.of("method") == method]
        species = sorted({f.of("species") for f in mine} - {""})
        rows = [
            [_what(f, species), value_text(f.estimate), interval_text(f.estimate), f.estimate.unit,
             n_of(f.estimate.n, f.estimate.n_of.removesuffix("s")), f.id, notes.of(f)]
            for f in mine
        ]  # fmt: skip
        about = [method.upper(), _put_down(figures, method), f"recruits of {species[0]}" if len(species) == 1 else ""]
        lines += ["", *wrap("  ".join(filter(None, about)), width), ""]
        lines += table(["what", "value", "95 % interval", "unit", "from", "figure", "notes"], rows, (1, 2), width)
    if not told:
        return "\n".join([*lines, "", "Nothing was put down yet, so there are no methods to compare."]) + "\n"
    beside = notes.lines(width)
    return "\n".join([*lines, *(["", "Notes", *beside] if beside else []), "", *wrap(CAVEAT, width)]) + "\n"


def _what(f: Figure, species: Sequence[str]) -> str:
    """What a row is called; its species where recruits of several were counted."""
    which = f", {f.of('species')}" if f.of("species") and len(species) > 1 else ""
    return ROWS[f.indicator].format(day=f.of("day")) + which


def _put_down(figures: Sequence[Figure], method: str) -> str:
    """Sites and pieces, as the figures on gear count them."""
    gear = [f for f in figures if f.indicator == PUT_DOWN and f.of("method") == method]
    pieces = sum(f.estimate.n for f in gear if f.of("site") == "all")
    sites = len({f.of("site") for f in gear} - {"all"})
    return f"{n_of(pieces, 'piece')} put down at {n_of(sites, 'site')}" if sites else ""
