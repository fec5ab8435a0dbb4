"""What the terminal shows: plain tables, one figure told in full, held parts by partner. Text in, text out."""

import math
from collections.abc import Sequence
from textwrap import shorten, wrap

from pipeline.indicators.catalogue import CATALOGUE
from pipeline.indicators.estimate import Estimate
from pipeline.indicators.figure import Figure
from pipeline.ledger.entry import Entry
from pipeline.lineage import Home

WIDTH = 110


def number(value: float) -> str:
    """Three significant digits, grouped, never in powers of ten: 0.0123, 4.57, 1,230."""
    if value == 0:
        return "0"
    size = abs(value)
    if size >= 1000:
        return f"{float(f'{value:.3g}'):,.0f}"
    text = f"{float(f'{value:.3g}'):.10f}".rstrip("0").rstrip(".")
    return text


def value_text(e: Estimate) -> str:
    """The estimate in one cell: a value, bounds, or a refusal."""
    if e.state == "estimated" and e.value is not None:
        return number(e.value)
    if e.state == "bounded" and e.value_from is not None and e.value_to is not None:
        return f"{number(e.value_from)} to {number(e.value_to)}"
    return "not estimable"


def interval_text(e: Estimate) -> str:
    """The 95 % interval in one cell, or a dash."""
    if e.low is None or e.high is None:
        return "-"
    return f"{number(e.low)} to {number(e.high)}"


def table(headings: Sequence[str], rows: Sequence[Sequence[str]], right: Sequence[int] = ()) -> list[str]:
    """Aligned columns, two spaces apart; `right` lists the columns that are flush right."""
    widths = [max(len(r[i]) for r in [headings, *rows]) for i in range(len(headings))]

    def line(cells: Sequence[str]) -> str:
        put = [c.rjust(w) if i in right else c.ljust(w) for i, (c, w) in enumerate(zip(cells, widths, strict=True))]
        return "  ".join(put).rstrip()

    return [line(headings), line(["-" * w for w in widths]), *(line(r) for r in rows)]


class Footnotes:
    """Cautions and notes, numbered once each in the order they are met."""

    def __init__(self) -> None:
        self.numbers: dict[str, int] = {}

    def of(self, e: Estimate) -> str:
        """The numbers beside an estimate."""
        told = [*([e.note] if e.note else []), *e.cautions]
        return ",".join(str(self.numbers.setdefault(t, len(self.numbers) + 1)) for t in told)

    def lines(self) -> list[str]:
        """Every footnote in full."""
        out = []
        for text, n in self.numbers.items():
            first, *more = wrap(text, WIDTH - 6) or [""]
            out += [f"{n:>4}  {first}", *(f"      {m}" for m in more)]
        return out


def summary(figures: Sequence[Figure], as_of: str, name: str) -> str:
    """The three questions for every site, with notes below. Densities are those of recruits in the last round."""
    notes = Footnotes()
    figures = sorted(figures, key=_as_read)
    lines = [f"{name}, as of {as_of}.", ""]
    lines += ["DID KELP COME?  Recruits per m2 in treated plots, last survey round; and against control plots", ""]
    lines += _recruits(figures, notes)
    lines += [
        "",
        "DID THE BAGS HOLD?  Fraction of tagged units still attached (torn and empty ones hold too); a range where it fell between visits",
        "",
    ]
    rows = [
        [f.of("site"), f.of("method"), f.of("day"), value_text(f.estimate), interval_text(f.estimate), str(f.estimate.n), f.id, notes.of(f.estimate)]
        for f in figures if f.indicator in ("unit retention", "unit retention over sites")
    ]  # fmt: skip
    lines += table(
        ["site", "method", "day", "attached", "95 % interval", "units", "figure", "notes"], rows, (2, 3, 4, 5)
    )
    lines += [
        "",
        "WHAT DID A HECTARE COST?  Per planted hectare (not per hectare of kelp); cash, gifts in kind and hours are never added up",
        "",
    ]
    areas = {f.of("site"): f.estimate.value or 0.0 for f in figures if f.indicator == "treated area"}
    areas["all"] = math.fsum(areas.values())
    rows = [  # the area comes first: a price from a few dozen square metres is no price
        [f.of("site"), number(areas.get(f.of("site"), 0.0)), f.indicator.removesuffix(" per hectare"), value_text(f.estimate),
         interval_text(f.estimate), f.estimate.unit, f.id, notes.of(f.estimate)]
        for f in figures if f.indicator.endswith("per hectare")
    ]  # fmt: skip
    lines += table(["site", "planted m2", "what", "cost", "95 % interval", "unit", "figure", "notes"], rows, (1, 3, 4))
    lines += ["", "Notes", *notes.lines()]
    return "\n".join(lines) + "\n"


def _as_read(f: Figure) -> tuple[bool, str, str, int, str]:
    """Site by site, days in order, what speaks of all sites last."""
    return (f.of("site") == "all", f.of("site"), f.of("method"), int(f.of("day") or 0), f.indicator)


def _recruits(figures: Sequence[Figure], notes: Footnotes) -> list[str]:
    last: dict[tuple[str, str, str], str] = {}
    for f in figures:
        if f.indicator == "density" and f.of("stage") == "recruit" and f.estimate.state == "estimated":
            place = (f.of("site"), f.of("species"), f.of("plot_kind"))
            last[place] = max(last.get(place, ""), f.of("survey"))
    treated = {k[:2]: v for k, v in last.items() if k[2] == "treated"}
    rows = []
    order = ("treated", "control", "reference", "treated minus control", "treated over control")
    for f in figures:
        where = (f.of("site"), f.of("species"))
        if f.of("stage") != "recruit":
            continue
        told = _what(f, last, treated.get(where))
        if told:
            rows.append(
                [*where, f.of("survey"), told, value_text(f.estimate), interval_text(f.estimate), str(f.estimate.n), _so(f), f.id, notes.of(f.estimate)]
            )  # fmt: skip
    headings = ["site", "species", "round from", "what", "value", "95 % interval", "frames", "so", "figure", "notes"]
    return table(headings, sorted(rows, key=lambda r: (r[0], r[1], order.index(r[3]), r[2])), (4, 5, 6))


def _so(f: Figure) -> str:
    """What the difference's interval allows one to say; nothing more."""
    e = f.estimate
    if f.indicator != "treated minus control":
        return ""
    if e.low is None or e.high is None:
        return "no comparison"
    return "more than control" if e.low > 0 else "less than control" if e.high < 0 else "cannot tell"


def _what(f: Figure, last: dict[tuple[str, str, str], str], treated: str | None) -> str:
    """What a row of the first table is called, "" when it is left out."""
    if f.indicator == "density":
        mine = last.get((f.of("site"), f.of("species"), f.of("plot_kind")))
        return f.of("plot_kind") if f.of("survey") == mine else ""
    if f.indicator in ("treated over control", "treated minus control") and f.of("survey") == treated:
        return f.indicator
    return ""


def one_figure(f: Figure, as_of: str) -> str:
    """A figure told in full: what it means, how it was made, what to beware of."""
    e, meaning = f.estimate, CATALOGUE[f.indicator]
    lines = [f"{meaning.title}  ({f.id})", ""]
    told = [
        *((k.replace("_", " "), v) for k, v in f.scope),
        ("value", f"{value_text(e)} {e.unit if e.state != 'not estimable' else ''}".strip()),
        ("95 % interval", interval_text(e)),
        ("from", f"{e.n} {e.n_of}"),
        ("as of", as_of),
        ("estimator", e.estimator),
        *([("note", e.note)] if e.note else []),
        *(("caution", c) for c in e.cautions),
        ("meaning", meaning.formula),
        ("limits", meaning.limits),
        ("source", meaning.source),
    ]
    for name, text in told:
        first, *more = wrap(text, WIDTH - 18) or [""]
        lines += [f"  {name:<15} {first}", *(" " * 18 + m for m in more)]
    return "\n".join([*lines, "", f"Lead it home with: wrackline home {f.id}"]) + "\n"


def rows_home(homes: Sequence[Home], limit: int | None = None) -> str:
    """The rows a figure rests on, counted ones first."""
    shown = homes if limit is None else homes[:limit]
    rows = [
        [h.role, h.kind, h.key, h.partner, h.name, h.drop[:12], h.sheet, str(h.row)] for h in shown
    ]  # fmt: skip
    lines = table(["role", "kind", "key", "partner", "file", "drop", "sheet", "row"], rows, (7,))
    counted = [h for h in homes if h.role == "counted"]
    if len(shown) < len(homes):
        lines.append(f"... and {len(homes) - len(shown)} more rows")
    lines += [
        "",
        f"{len({h.identity for h in counted})} statements are counted in it, told by {len(counted)} rows (a file handed in again tells "
        f"them again); {len(homes) - len(counted)} rows stand beside it: days, areas, comparisons, registers.",
        "A drop is kept in ledger/drops/ under the name that begins so; the row is as a spreadsheet counts.",
    ]
    return "\n".join(lines) + "\n"


def receipts(entries: Sequence[Entry]) -> str:
    """What a take-in did, a line a drop."""
    rows = [
        [str(e.number), e.partner, e.name, str(e.receipt.records), str(e.receipt.entered), str(e.receipt.amended), str(e.receipt.held),
         str(e.receipt.repeated), str(e.receipt.asked), e.unreadable]
        for e in entries if e.drop
    ]  # fmt: skip
    headings = ["receipt", "partner", "file", "rows", "entered", "of these amend", "held", "known", "asked", ""]
    legend = (
        "One row may make several statements. Known: told before. Asked: rows that an earlier file of this name had."
    )
    return "\n".join([*table(headings, rows, (0, 3, 4, 5, 6, 7, 8)), legend]) + "\n"


def nights(told: Sequence[tuple[str, Sequence[Entry]]]) -> str:
    """What each night's take-in did, a line a night."""
    rows = []
    for night, entries in told:
        sums = [
            sum(getattr(e.receipt, k) for e in entries)
            for k in ("records", "entered", "amended", "held", "repeated", "asked")
        ]
        rows.append([night, str(sum(bool(e.drop) for e in entries)), *map(str, sums)])
    headings = ["", "files", "rows", "entered", "of these amend", "held", "known", "asked"]
    return "\n".join(table(headings, rows, range(1, 8))) + "\n"


def held_parts(rows: Sequence[tuple[str, str, str, str, str, str, int]]) -> str:
    """Held parts by partner and cause. rows: partner, file, kind, column, code, example, how many."""
    told = [
        [p, f, k or "-", c or "the row", code, shorten(example, 60), str(n)] for p, f, k, c, code, example, n in rows
    ]
    lines = table(["partner", "file", "kind", "column", "why", "for instance", "parts"], told, (6,))
    return "\n".join(lines) + "\n"


def catalogue() -> str:
    """Every indicator in full."""
    lines = []
    for i in CATALOGUE.values():
        lines += [f"{i.name}  [{i.unit}]"]
        for name, text in (
            ("means", i.formula),
            ("estimator", i.estimator),
            ("source", i.source),
            ("limits", i.limits),
        ):
            first, *more = wrap(text, WIDTH - 14)
            lines += [f"  {name:<10}  {first}", *(" " * 14 + m for m in more)]
        lines.append("")
    return "\n".join(lines)
