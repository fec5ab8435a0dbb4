"""What was decided, in words: for the lead's own letter, and for the page of each partner that it concerns.

A partner's page shows that partner's own values and names the others; their values are shown to the lead alone.
"""

from collections.abc import Sequence
from itertools import groupby

from pipeline.decided import Decision, Word
from pipeline.outputs.layout import paragraph, plain
from pipeline.plural import n_of

WIDTH = 96
LISTED = 100  # of one letter or page; the rest are counted

NOT_RIGHT = "If one of these is not right, please write to the programme: a later decision replaces an earlier."


def letter_lines(made: Sequence[Decision]) -> list[str]:
    """What a drop of decisions decided, for the letter about it. Nothing when it decided nothing."""
    if not made:
        return []
    lines = [f"It decides about {n_of(len(made), 'thing')}:"]
    for d in made[:LISTED]:
        by = f" Decided{_by(d)}: {_ended(d.reason)}"
        replaced = f" This replaces the ruling of receipt {d.replaces}." if d.replaces else ""
        lines += paragraph("   - ", f"{_about(d)}: {_decided(d)}{by}{replaced}", 5, WIDTH)
    return lines + _more(len(made))


def answer_lines(made: Sequence[Decision], width: int = WIDTH) -> list[str]:
    """What a ruling just put decides, for whom put it: what counts now, what is refused, who reads of it where."""
    lines = []
    for d in made[:LISTED]:
        lines += paragraph("", f"Ruled on {_about(d)}. {_decided(d)}", 0, width)
    told = sorted({w.partner for d in made for w in d.words} - {"programme"})
    if told:
        where = _and([f"{p} (out/letters/{p}/standing.txt)" for p in told])
        lines += paragraph("", f"Told of it, with the reason and how to object: {where}.", 0, width)
    return lines + _more(len(made))


def page_lines(partner: str, made: Sequence[Decision]) -> list[str]:
    """What was decided about things that this partner told of, the newest first, and what that means for its words."""
    mine = [d for d in reversed(made) if any(w.partner == partner for w in d.words)]
    if not mine:
        return []
    lines = ["", *paragraph("", f"DECIDED, {n_of(len(mine), 'thing')} that you told of. {NOT_RIGHT}", 0, WIDTH)]
    for (_, day, by, reason), alike in groupby(mine[:LISTED], key=lambda d: (d.receipt, d.day, _by(d), d.reason)):
        together = list(alike)
        head = f"On {day}{by}" if together[0].sort != "rule" else f"By the programme's rule “{plain(together[0].by)}”"
        lines += ["", *paragraph("", f"{head}: {_ended(reason)}", 0, WIDTH)]
        for d in together:
            lines += paragraph("   - ", f"{_about(d)}: {_for_partner(partner, d)}", 5, WIDTH)
    return lines + _more(len(mine))


def _decided(d: Decision) -> str:
    if d.sort == "closed":
        return "this held row is closed for good."
    if d.sort == "taken back":
        return f"taken back, as told by {_and(sorted({w.partner for w in d.words}))}."
    good, refused = [w for w in d.words if w.counts], [w for w in d.words if not w.counts]
    counts = f"{good[0].says or 'it'} counts, as told by {_and([_told_by(w) for w in good])}." if good else ""
    if not d.chosen:
        counts = (
            f"None of what was held counts. What counted before stays: {counts}" if good else "Nothing of it counts."
        )
    not_said = "; ".join(f"{w.says or 'what is said'}, told by {_told_by(w)}" for w in refused)
    return counts + (f" Refused: {not_said}." if refused else "")


def _for_partner(partner: str, d: Decision) -> str:
    mine, others = [w for w in d.words if w.partner == partner], [w for w in d.words if w.partner != partner]
    if d.sort == "closed":
        return "this held row of yours is closed; nothing more is to be done about it."
    if d.sort == "taken back":
        return "the programme took it back, so it does not count."
    told = [f"what you told in {_where(w)}{f' ({w.says})' if w.says else ''} {_counts(w)}." for w in mine]
    winners = _and(sorted({w.partner for w in others if w.counts}))
    losers = _and(sorted({w.partner for w in others if not w.counts} - {w.partner for w in others if w.counts}))
    if not any(w.counts for w in mine):
        told.append(
            f"What {winners} told counts. Please talk to them, and take what was decided into your sheet."
            if winners
            else "Nothing of it counts for now."
        )
    if losers:
        told.append(f"What {losers} told otherwise does not count.")
    return " ".join(told)


def _counts(word: Word) -> str:
    return "counts" if word.counts else "does not count"


def _about(d: Decision) -> str:
    where = _where(d.words[0]) if d.words and d.words[0].file else ""
    if d.sort == "closed":
        return where + (f" ({d.kind} {plain(d.key)})" if d.key else "")
    return f"{d.kind} {plain(d.key)}"


def _by(d: Decision) -> str:
    return f" by {plain(d.by)}" if d.by else ""


def _told_by(w: Word) -> str:
    return f"{w.partner} ({_where(w)})"


def _where(w: Word) -> str:
    return f"“{plain(w.file)}” " + (f"sheet “{plain(w.sheet)}” " if w.sheet else "") + f"row {w.row}"


def _ended(text: str) -> str:
    return text if text.endswith((".", "!", "?")) else f"{text}."


def _and(names: Sequence[str]) -> str:
    return " and ".join([", ".join(names[:-1]), names[-1]] if len(names) > 1 else names)


def _more(count: int) -> list[str]:
    return [f"   ... and {count - LISTED} more; the programme has them all."] if count > LISTED else []
