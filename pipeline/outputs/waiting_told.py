"""What was taken in and does not count yet, for letters and pages of what is open: in which rows, for what it waits, what to do."""

import datetime as dt
from collections.abc import Sequence

from pipeline.outputs.layout import plain, ranges
from pipeline.outputs.paper import BELOW, FACT, ITEM, POINT, Line
from pipeline.outputs.words import Post
from pipeline.tongue import vocabulary
from pipeline.unsettled import Waiting

LISTED = 100  # reasons; the rest are counted
KEYS = 20  # of rows that get another key when they are mended

SLIP = "If it is a slip of the pen, mend it in your sheet and hand the sheet in again."
ASKED = "Is {word} meant?"
BY_NAME = (
    "That is the name of one site; its code is {key}. Write {key} in your sheet and hand the sheet in again, or ask the programme to read "
    "this name as that code from now on."
)
FOUND = "Then write {key} in your sheet and hand the sheet in again."
REGISTER = "If it is right as it stands, ask the programme to register it."
# Rules of standing -> what to do: first, and where what stands there is right.
ADVICE = {
    "unknown site": (SLIP, REGISTER),
    "unknown plot": (SLIP, REGISTER),
    "unknown bed": (SLIP, REGISTER),
    "never deployed": (SLIP, "If it is right as it stands, hand in the row that tells how this unit was put down."),
    "cost has no place yet": (SLIP, "If it is right as it stands, it counts once that is handed in or registered."),
    "cost has no rate": ("There is nothing for you to do: the programme enters the rate.", ""),
    "protocol": (SLIP, "If it is right as it stands, ask the programme to write the protocol down."),
    "count without area": ("Fill in the area of the frame and hand the sheet in again.", ""),
    "outside the role of the plot": (SLIP, "If it is right as it stands, ask the programme to look at the dates of the plot."),
    "frame told in two ways": ("Look at all rows of the frame, mend those that are wrong and hand the sheet in again.", ""),
    "seen before it was put down": ("One of the two days is wrong: mend it where it was written and hand that sheet in again.", ""),
    "lost before it was put down": ("One of the two days is wrong: mend it where it was written and hand that sheet in again.", ""),
    "absent where the site was not found": (
        "If the dive did find the site, mend the dive. If not, nobody looked for the unit: tell it as not searched, not as absent.", "",
    ),
    "unit in dispute": ("There is nothing for you to do here: it counts once it is settled how the unit was put down.", ""),
    "dated ahead": (SLIP, "If it is right as it stands, hand the sheet in again once the day has come."),
}  # fmt: skip
TAKEN_BACK = "Taken back"  # title of the blank sheet of withdrawals: `blanks.columns.TITLES`
TAKE_BACK = (
    "These rows are new ones to us once they are mended, and the old ones wait on. To take the old ones back, ask the "
    "programme for the blank sheet “{sheet}” and fill it in, or hand in a table of its own with the headings happened (the day you write "
    "it), withdraws_kind, withdraws_key and reason; kind and key are:"
)


def waiting_lines(_: Post, waits: Sequence[Waiting], file: bool) -> list[Line]:
    """A point for each reason, with its rows, and what to do. file: whether it is said in which file they stand, and since when."""
    alike: dict[tuple[str, str, str, str, dt.date, int, str, str, bool], list[Waiting]] = {}
    for w in waits:  # what may be meant differs from site to site
        alike.setdefault((w.kind, w.why, w.file, w.sheet, w.since, w.receipt, w.meant, w.called, w.by_name), []).append(
            w
        )
    receipts: dict[tuple[str, dt.date], set[int]] = {}
    for w in waits:
        receipts.setdefault((w.file, w.since), set()).add(w.receipt)
    lines = []
    for n, ((kind, why, name, sheet, since, *__), rows) in enumerate(list(alike.items())[:LISTED]):
        many = _("{parts} of kind {kind}", parts=_.count(len(rows), "statement"), kind=_.again(kind))
        what = f"{_.again(kind)} {plain(rows[0].key)}" if len(rows) == 1 else many
        place = [_("sheet “{sheet}”", sheet=plain(sheet))] if sheet else []
        told = ranges([w.row for w in rows]).replace(",", ", ")
        where = " ".join([*place, _("rows {row}" if len(rows) > 1 else "row {row}", row=told)])
        if file:
            where = _("“{file}” {place}, received {day}", file=plain(name), place=where, day=_.day(since))
            if len(receipts[name, since]) > 1:  # one file handed in twice on one day
                where = _("{where}, receipt {receipt}", where=where, receipt=rows[0].receipt)
        lines.append(Line(_("{where}: {what}", where=what, what=f"{_.again(why)} ({where})"), POINT, gap=not n))
        if told := advice(_, rows[0]):
            lines.append(Line(_("What to do: {advice}", advice=told), BELOW))
    if len(alike) > LISTED:
        lines.append(Line(_("... and {n} more", n=_.whole(len(alike) - LISTED)), FACT))
    return lines + _to_take_back(_, [w for w in waits if w.new_key], file)


def _to_take_back(_: Post, waits: Sequence[Waiting], file: bool) -> list[Line]:
    """How an old row is taken back where the mended one has another key: no key can be exchanged, an event stays what it is."""
    if not waits:
        return []
    lines = [Line(_(TAKE_BACK, sheet=taking_back(_)), gap=True)]
    for w in sorted(waits, key=lambda w: (w.file, w.receipt, w.sheet, w.row))[:KEYS]:
        where = _("row {row}", row=w.row)
        where = f"{_.quoted(plain(w.file))} {where}" if file else where
        lines.append(Line(_("{where}: {what}", where=where, what=f"{_kind(_, w.kind)}; {plain(w.key)}"), ITEM))
    if len(waits) > KEYS:
        lines.append(Line(_("... and {n} more", n=_.whole(len(waits) - KEYS)), FACT))
    return lines


def taking_back(_: Post) -> str:
    """What the blank sheet is called in which a partner takes rows back."""
    return vocabulary(_.language).get(TAKEN_BACK, TAKEN_BACK)


def _kind(_: Post, kind: str) -> str:
    """A kind as a table of our own headings has it, and as the blank sheet calls it."""
    said = vocabulary(_.language).get(kind, kind)
    return kind if said == kind else f"{kind} ({said})"


def advice(_: Post, w: Waiting) -> str:
    """What to do about it, "" where nothing is known."""
    first, right = ADVICE.get(w.rule, ("", ""))
    if w.by_name:
        return _(BY_NAME, key=w.meant)
    if w.meant:
        word = _("{key} (“{name}”)", key=w.meant, name=plain(w.called)) if w.called else plain(w.meant)
        return " ".join([_(ASKED, word=word), _(FOUND, key=w.meant), *([_(right)] if right else [])])
    return " ".join(_(t) for t in (first, right) if t)
