"""What was decided, in words: for the lead's own letter, and for the page of each partner that it concerns.

A partner's page shows that partner's own values and names the others; their values are shown to the lead alone.
"""

from collections.abc import Sequence
from itertools import groupby

from pipeline.decided import Decision, Word
from pipeline.outputs.layout import paragraph, plain
from pipeline.outputs.paper import HEAD, POINT, TEXT, Line
from pipeline.outputs.values import NOBODYS, Theirs, saying_in
from pipeline.outputs.words import Post, words

WIDTH = 96
LISTED = 100  # of one letter or page; the rest are counted

DECIDED = (
    "DECIDED, {things} that you told of. If one of these is not right, please write to the programme: a later decision "
    "replaces an earlier."
)


def letter_lines(_: Post, made: Sequence[Decision]) -> list[Line]:
    """What a drop of decisions decided, for the letter about it. Nothing when it decided nothing."""
    if not made:
        return []
    lines = [Line(_("It decides about {things}:", things=_.count(len(made), "thing")), TEXT, gap=True)]
    for d in made[:LISTED]:
        told = [_("{thing}: {what}", thing=_about(_, d), what=_decided(_, d)), _by(_, d)]
        if d.replaces:
            told.append(_("This replaces the ruling of receipt {receipt}.", receipt=d.replaces))
        lines.append(Line(" ".join(told), POINT))
    return lines + _more(_, len(made))


def answer_lines(made: Sequence[Decision], width: int = WIDTH) -> list[str]:
    """What a ruling just put decides, for whom put it, in English: what counts now, what is refused, who reads of it where."""
    _, lines = words("en"), []
    for d in made[:LISTED]:
        lines += paragraph("", f"Ruled on {_about(_, d)}. {_decided(_, d)}", 0, width)
    told = sorted({w.partner for d in made for w in d.words} - {"programme"})
    if told:
        where = _and(_, [f"{p} (out/letters/{p}/standing.txt)" for p in told])
        lines += paragraph("", f"Told of it, with the reason and how to object: {where}.", 0, width)
    return lines + [f"   {line.text}" for line in _more(_, len(made))]


def page_lines(_: Post, partner: str, made: Sequence[Decision], theirs: Theirs = NOBODYS) -> list[Line]:
    """What was decided about things that this partner told of, the newest first, and what that means for its words."""
    mine = [d for d in reversed(made) if any(w.partner == partner for w in d.words)]
    if not mine:
        return []
    lines = [Line(_(DECIDED, things=_.count(len(mine), "thing")), HEAD, gap=True)]
    for (__, sort, day, by, reason), alike in groupby(
        mine[:LISTED], key=lambda d: (d.receipt, d.sort == "rule", d.day, d.by, d.reason)
    ):
        signed = "By the programme's rule “{by}”: {reason}" if sort else "On {day} by {by}: {reason}"
        head = signed if by else "On {day}: {reason}"
        lines.append(Line(_(head, day=_.day(day), by=plain(by), reason=_.again(_ended(reason))), TEXT, gap=True))
        for d in alike:
            lines.append(
                Line(_("{thing}: {what}", thing=_about(_, d), what=_for_partner(_, partner, d, theirs)), POINT)
            )
    return lines + _more(_, len(mine))


def _decided(_: Post, d: Decision) -> str:
    if d.sort == "closed":
        return _("this held row is closed for good.")
    if d.sort == "taken back":
        return _("taken back, as told by {who}.", who=_and(_, sorted({w.partner for w in d.words})))
    good, refused = [w for w in d.words if w.counts], [w for w in d.words if not w.counts]
    what = saying_in(_, d.kind, good[0].told) if good else ""
    told = "{what} counts, as told by {who}." if what else "it counts, as told by {who}."
    counts = _(told, what=what, who=_and(_, [_told_by(_, w, d) for w in good])) if good else ""
    if not d.chosen:
        stays = "None of what was held counts. What counted before stays: {what}"
        counts = _(stays, what=counts) if good else _("Nothing of it counts.")
    if not refused:
        return counts
    each = [
        _("{what}, told by {who}", what=saying_in(_, d.kind, w.told) or _("what is said"), who=_told_by(_, w, d))
        for w in refused
    ]
    return " ".join([counts, _("Refused: {words}.", words=_.listed(each))])


def _for_partner(_: Post, partner: str, d: Decision, theirs: Theirs) -> str:
    mine, others = [w for w in d.words if w.partner == partner], [w for w in d.words if w.partner != partner]
    if d.sort == "closed":
        return _("this held row of yours is closed; nothing more is to be done about it.")
    if d.sort == "taken back":
        return _("the programme took it back, so it does not count.")
    told = []
    for w in mine:
        where = _where(_, w, d)
        what = saying_in(_, d.kind, w.told, theirs)
        where = _("{where} ({what})", where=where, what=what) if what else where
        says = "what you told in {where} counts." if w.counts else "what you told in {where} does not count."
        told.append(_(says, where=where))
    winners = sorted({w.partner for w in others if w.counts})
    losers = sorted({w.partner for w in others if not w.counts} - set(winners))
    if not any(w.counts for w in mine):
        says = "What {who} told counts. Please talk to them, and take what was decided into your sheet."
        told.append(_(says, who=_and(_, winners)) if winners else _("Nothing of it counts for now."))
    if losers:
        told.append(_("What {who} told otherwise does not count.", who=_and(_, losers)))
    return " ".join([*told[:1], *(t[:1].upper() + t[1:] for t in told[1:])])


def _about(_: Post, d: Decision) -> str:
    where = _where(_, d.words[0], d) if d.words and d.words[0].file else ""
    thing = f"{_.again(d.kind)} {plain(d.key)}"
    if d.sort == "closed":
        return _("{where} ({what})", where=where, what=thing) if d.key else where
    return thing


def _by(_: Post, d: Decision) -> str:
    told = "Decided by {by}: {reason}" if d.by else "Decided: {reason}"
    return _(told, by=plain(d.by), reason=plain(_ended(d.reason)))


def _told_by(_: Post, w: Word, d: Decision) -> str:
    return f"{w.partner} ({_where(_, w, d)})"


def _where(_: Post, w: Word, d: Decision) -> str:
    """File, sheet and row; and the receipt where that file speaks of the thing twice, as one handed in again does."""
    sheet = [_("sheet “{sheet}”", sheet=plain(w.sheet))] if w.sheet else []
    where = " ".join([_.quoted(plain(w.file)), *sheet, _("row {row}", row=w.row)])
    twice = len({o.receipt for o in d.words if (o.partner, o.file) == (w.partner, w.file)}) > 1
    return _("{where}, receipt {receipt}", where=where, receipt=w.receipt) if twice else where


def _ended(text: str) -> str:
    return text if text.endswith((".", "!", "?")) else f"{text}."


def _and(_: Post, names: Sequence[str]) -> str:
    return _("{some} and {last}", some=", ".join(names[:-1]), last=names[-1]) if len(names) > 1 else "".join(names)


def _more(_: Post, count: int) -> list[Line]:
    told = "... and {n} more; the programme has them all."
    return [Line(_(told, n=_.whole(count - LISTED)), TEXT)] if count > LISTED else []
