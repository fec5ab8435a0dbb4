"""What a held row says otherwise than others, in words: a line for each column that differs, with both values."""

from collections.abc import Mapping

from pipeline.differing import Against, Difference, Differs
from pipeline.outputs.layout import plain
from pipeline.outputs.values import NOBODYS, Theirs, titled, value_in, with_unit
from pipeline.outputs.words import Post

Differing = Mapping[tuple[str, int, int], Difference]  # by sheet, row and part
FEW = 5  # rows that tell one other value and are named; the rest are counted
NOTHING: Differing = {}
NO_COLUMN = "Your sheet has no column for this: {columns}. If what the other says is right, write to the programme, which can decide."


def lines_of(_: Post, told: Difference | None, theirs: Theirs = NOBODYS) -> list[str]:
    """One line a column; the row's own file and sheet are not named again. Last, for which of them the sheet has no column."""
    if told is None:
        return []
    lines = [line_of(_, told, c, theirs) for c in told.columns]
    without = [
        c.column for c in told.columns if not c.heading and not c.mine and any(not a.unseen for __, a in c.others)
    ]
    if without:
        columns = _.listed([titled(_, told.kind, name) for name in without])
        lines.append(_(NO_COLUMN, columns=columns))
    return lines


def line_of(_: Post, told: Difference, c: Differs, theirs: Theirs = NOBODYS) -> str:
    """The column, as headed in the partner's sheet, the row's own value, and each other value with who says it; of what is unseen only that it counts."""

    def shown(text: str) -> str:
        value = value_in(_, told.kind, c.column, text, theirs, typed=bool(c.heading))
        return _.quoted(with_unit(value, told.kind, c.column, c.heading)) if text else _("left blank")

    others: dict[str, list[Against]] = {}
    for text, against in c.others:
        if not against.unseen:
            others.setdefault(shown(text), []).append(against)
    heading = _("column “{heading}”", heading=plain(c.heading)) if c.heading else titled(_, told.kind, c.column)
    says = [_("{value} here", value=shown(c.mine))]
    for value, those in others.items():
        says += _said(_, value, those, told)
    unseen = [a for __, a in c.others if a.unseen]
    says += [_("another word counts, by a ruling")] if any(a.counts for a in unseen) and not told.rule else []
    for partner in dict.fromkeys(a.partner for a in unseen if a.partner):
        row = next(_row(_, a, told) for a in unseen if a.partner == partner)
        says.append(_("told otherwise by {who}", who=_("{where} ({what})", where=partner, what=row)))
    return _("{where}: {what}", where=heading[:1].upper() + heading[1:], what=_.listed(says))


def _said(_: Post, value: str, those: list[Against], told: Difference) -> list[str]:
    """One other value, by whom: what counts now, rows of this partner's files, other partners."""
    found = [_("{value} counts now", value=value)] if any(a.counts for a in those) else []
    own = [_row(_, a, told) for a in those if not a.counts and a.partner == told.partner]
    if own:
        more = [_("... and {n} more", n=_.whole(len(own) - FEW))] if len(own) > FEW else []
        found.append(_("{value} ({where})", value=value, where=", ".join([*own[:FEW], *more])))
    for partner in dict.fromkeys(a.partner for a in those if not a.counts and a.partner != told.partner):
        row = next(_row(_, a, told) for a in those if a.partner == partner)
        who = _("{where} ({what})", where=partner, what=row)
        found.append(_("{what}, told by {who}", what=value, who=who))
    return found


def _row(_: Post, a: Against, told: Difference) -> str:
    """Where a row is: its file and sheet only where they are others than this row's."""
    elsewhere = (a.partner, a.file) != (told.partner, told.file)
    sheet = [_("sheet “{sheet}”", sheet=plain(a.sheet))] if a.sheet and (elsewhere or a.sheet != told.sheet) else []
    return " ".join([*([_.quoted(plain(a.file))] if elsewhere else []), *sheet, _("row {row}", row=a.row)])
