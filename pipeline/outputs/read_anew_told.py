"""What changed by reading a file again, in words: under each heading the values that were and are, with their rows."""

from collections.abc import Sequence

from pipeline.differing import Difference, Differs
from pipeline.outputs.layout import plain, ranges
from pipeline.outputs.paper import FACT, HEAD, ITEM, TEXT, UNDER, Line
from pipeline.outputs.values import NOBODYS, Theirs, titled, value_in, with_unit
from pipeline.outputs.words import Post

FEW, HEADINGS = 6, 30  # pairs of values under one heading, and headings; the rest are counted
CHANGED = "What your rows say now, since they are read otherwise: {rows}. Please look at them; if one is wrong, tell the programme."
STILL_WAITS = "Read again, your rows say what they said before."  # what to do about that stands below
UNCHANGED = "Read again, your rows say what they said before. There is nothing for you to do."


def changed_lines(_: Post, changed: Sequence[Difference], theirs: Theirs = NOBODYS) -> list[Line]:
    """A line for each heading, below it one for each pair of values with the rows that it is of."""
    if not changed:
        return []
    found: dict[tuple[str, str, str], dict[tuple[str, str], list[int]]] = {}
    for d in changed:
        for c in d.columns:
            place = [_("sheet “{sheet}”", sheet=plain(d.sheet))] if d.sheet else []
            heading = _("column “{heading}”", heading=plain(c.heading)) if c.heading else titled(_, d.kind, c.column)
            pairs = found.setdefault((d.sheet, d.kind, ", ".join([*place, heading])), {})
            pairs.setdefault((_value(_, d, c, c.others[0][0], theirs), _value(_, d, c, c.mine, theirs)), []).append(
                d.row
            )
    rows = _.count(len({(d.sheet, d.row) for d in changed}), "row")
    lines = [Line(_(CHANGED, rows=rows), HEAD, gap=True)]
    for (__, __, heading), pairs in list(found.items())[:HEADINGS]:
        lines.append(Line(f"{heading[:1].upper()}{heading[1:]}", TEXT, gap=True))
        alike = sorted(pairs.items(), key=lambda p: (-len(p[1]), p[1]))
        for (old, new), numbers in alike[:FEW]:
            told = ranges(sorted(set(numbers))).replace(",", ", ")
            where = _("rows {row}" if len(set(numbers)) > 1 else "row {row}", row=told)
            lines.append(Line(_("{where}: {old} before, {new} now", where=where, old=old, new=new), ITEM))
        if len(alike) > FEW:
            more = len({n for __, numbers in alike[FEW:] for n in numbers})
            lines.append(Line(_("... and {n} more", n=_.count(more, "row")), UNDER))
    if len(found) > HEADINGS:
        lines.append(Line(_("... and {n} more", n=_.whole(len(found) - HEADINGS)), FACT))
    return lines


def _value(_: Post, d: Difference, c: Differs, text: str, theirs: Theirs) -> str:
    if not text:
        return _("left blank")
    value = value_in(_, d.kind, c.column, text, theirs, typed=bool(c.heading))
    return _.quoted(with_unit(value, d.kind, c.column, ""))
