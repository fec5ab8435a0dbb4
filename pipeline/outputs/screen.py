"""What the terminal shows besides the summary: one figure in full, its rows, receipts, what is held, waits, stands."""

from collections.abc import Mapping, Sequence
from textwrap import shorten, wrap

from pipeline.indicators.catalogue import CATALOGUE
from pipeline.indicators.figure import Figure
from pipeline.ledger.entry import Entry
from pipeline.lineage import Home
from pipeline.outputs.layout import WIDTH, interval_text, paragraph, table, value_text
from pipeline.plural import n_of
from pipeline.unsettled import HeldCause, HeldRow, Ruling

SHORT, BRIEF = 100, 48  # characters of a cell that are shown; --json has the whole
# Three lists that look alike: each says what the other two hold.
OF_HELD = (
    "These rows were not taken in. `waiting` shows those of them that somebody must rule on, side by side with what they",
    "contradict; `standing` shows what was taken in and still waits for something, or counts with a caution.",
)
OF_STANDING = (
    "These events were taken in: `waits` counts once what is missing comes, `caution` counts now. Rows that were not taken in",
    "are in `held`; what is told in two ways and needs a ruling is in `waiting`.",
)
BESIDE_SHOWN = 6  # rows beside a figure that are told unasked


def one_figure(f: Figure, as_of: str, width: int = WIDTH) -> str:
    """A figure told in full: what it means, how it was made, what to beware of."""
    e, meaning = f.estimate, CATALOGUE[f.indicator]
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
    lines = [f"{meaning.title}  ({f.id})", ""]
    lines += [line for name, text in told for line in paragraph(f"  {name}", text, 18, width)]
    return "\n".join([*lines, "", f"Lead it home with: wrackline home {f.id}"]) + "\n"


def every_figure(figures: Sequence[Figure], width: int = WIDTH) -> str:
    """Every figure, a line each."""
    rows = [
        [f.id, f.indicator, " ".join(v for _, v in f.scope), value_text(f.estimate), interval_text(f.estimate), f.estimate.unit]
        for f in figures
    ]  # fmt: skip
    headings = ["figure", "indicator", "of", "value", "95 % interval", "unit"]
    return "\n".join(table(headings, rows, (3, 4), width)) + "\n"


def rows_home(homes: Sequence[Home], limit: int | None = None, beside: bool = False, width: int = WIDTH) -> str:
    """The rows a figure rests on, counted ones first, and the files they stand in.

    limit: how many rows at most. beside: whether those that only stand beside it are all told, or a few.
    """
    nearby = [h for h in homes if h.role == "beside"]
    spared = set() if beside else {id(h) for h in nearby[BESIDE_SHOWN:]}
    shown = [h for h in homes if id(h) not in spared][:limit]
    rows = [
        [h.role, h.kind, h.key, shorten(h.says, BRIEF, placeholder=" ..."), str(h.entry), f"{h.sheet} {h.row}".strip()] for h in shown
    ]  # fmt: skip
    lines = table(["role", "kind", "key", "says", "receipt", "row"], rows, (4, 5), width)
    if len(shown) < len(homes):
        rest = " that stand beside it: --beside shows them" if spared and limit is None else ""
        lines.append(f"... and {n_of(len(homes) - len(shown), 'more row')}{rest}")
    files = sorted({(h.entry, h.partner, h.name, h.drop) for h in shown})
    told = [[str(n), partner, name, drop[:12]] for n, partner, name, drop in files]
    lines += ["", *table(["receipt", "partner", "file", "drop"], told, (0,), width)]
    counted = [h for h in homes if h.role == "counted"]
    legend = (
        f"{n_of(len({h.identity for h in counted}), 'statement is', 'statements are')} counted in it, told by {n_of(len(counted), 'row')} (a file handed in again tells "
        f"them again); {n_of(len(nearby), 'row stands', 'rows stand')} beside it: days, areas, comparisons, registers; "
        f"{n_of(len(homes) - len(counted) - len(nearby), 'is', 'are')} left out: held, in dispute or withdrawn. A row is numbered as a spreadsheet does; the file's bytes are kept in "
        "ledger/drops/ under the name that begins as its drop does, unless they were erased on request."
    )
    return "\n".join([*lines, "", *wrap(legend, width)]) + "\n"


def receipts(entries: Sequence[Entry], width: int = WIDTH) -> str:
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
    return "\n".join([*table(headings, rows, (0, 3, 4, 5, 6, 7, 8), width), *wrap(legend, width)]) + "\n"


def nights(told: Sequence[tuple[str, Sequence[Entry]]], width: int = WIDTH) -> str:
    """What each night's take-in did, a line a night."""
    rows = []
    for night, entries in told:
        sums = [
            sum(getattr(e.receipt, k) for e in entries)
            for k in ("records", "entered", "amended", "held", "repeated", "asked")
        ]
        rows.append([night, str(sum(bool(e.drop) for e in entries)), *map(str, sums)])
    headings = ["", "files", "rows", "entered", "of these amend", "held", "known", "asked"]
    return "\n".join(table(headings, rows, range(1, 8), width)) + "\n"


def held_causes(held: Sequence[HeldCause], width: int = WIDTH) -> str:
    """Held parts by partner and cause, and below them where the letters are."""
    told = [
        [h.partner, h.file, h.kind or "-", h.column or "the row", h.why, shorten(h.for_instance, SHORT), str(h.parts), str(h.receipt)]
        for h in held
    ]  # fmt: skip
    headings = ["partner", "file", "kind", "column", "why", "for instance", "parts", "receipt"]
    return "\n".join([*table(headings, told, (6, 7), width), *_letters(held)]) + "\n"


def held_rows(held: Sequence[HeldRow], width: int = WIDTH) -> str:
    """Every held part, and below them where the letters are."""
    told = [[h.name, h.partner, h.file, str(h.row), h.kind, shorten(h.why, SHORT) + _older(h)] for h in held]
    headings = ["part", "partner", "file", "row", "kind", "why"]
    return "\n".join([*table(headings, told, (3,), width), *_letters(held)]) + "\n"


def _older(h: HeldRow) -> str:
    """That an older drop says the same, and is not counted again."""
    there = [o for o in h.older if not o.same_drop]
    more = f" and {len(there) - 1} more" if len(there) > 1 else ""
    return f" (also {there[-1].file} row {there[-1].row}{more})" if there else ""


def _letters(held: Sequence[HeldCause] | Sequence[HeldRow]) -> list[str]:
    """The letter of each receipt, by its path from the programme's folder: whole on its line, to be copied."""
    places = sorted({(h.receipt, h.letter) for h in held})
    return [
        "",
        "What to do about each stands in its letter, in the programme's folder:",
        *(f"{n:>7}  {letter}" for n, letter in places),
        "",
        *OF_HELD,
    ]


def rulings(made: Sequence[Ruling], width: int = WIDTH) -> str:
    """What was ruled on, a line a ruling."""
    rows = [
        [r.settles[:8] if r.kind else "", f"{r.kind} {r.key}".strip(), shorten(r.says, SHORT) if r.says else r.choice,
         r.by, r.reason, str(r.day), str(r.receipt), "" if r.holds or not r.kind else "replaced"]
        for r in made
    ]  # fmt: skip
    return (
        "\n".join(table(["settled", "about", "what counts", "by", "because", "on", "receipt", ""], rows, (6,), width))
        + "\n"
    )


def standing(rows: Sequence[tuple[str, str, str, str, int]], width: int = WIDTH) -> str:
    """What does not simply stand, by kind and rule. rows: kind, effect, rule, an instance, how many events."""
    told = [[kind, effect, rule, instance, str(n)] for kind, effect, rule, instance, n in rows]
    return (
        "\n".join([*table(["kind", "effect", "rule", "for instance", "events"], told, (4,), width), "", *OF_STANDING])
        + "\n"
    )


def kinds(docs: Mapping[str, tuple[str, str]], width: int = WIDTH) -> str:
    """Every kind with its key and meaning."""
    return "\n".join(table(["kind", "key", "meaning"], [[k, *told] for k, told in docs.items()], width=width)) + "\n"


def catalogue(width: int = WIDTH) -> str:
    """Every indicator in full."""
    lines = []
    for i in CATALOGUE.values():
        told = (("means", i.formula), ("estimator", i.estimator), ("source", i.source), ("limits", i.limits))
        lines += [f"{i.name}  [{i.unit}]"]
        lines += [line for name, text in told for line in paragraph(f"  {name}", text, 14, width)]
        lines.append("")
    return "\n".join(lines)
