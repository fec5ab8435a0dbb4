"""The charts: intervals on one common axis, counts of frames behind their mean, rounds over time, days of temperature."""

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from statistics import median_low

from markupsafe import Markup

from pipeline.indicators.estimate import Estimate
from pipeline.pages.svg import Picture, Scale, ticks
from pipeline.pages.words import Words, says_nothing

ROW = 22.0
CUT = 1.5
LETTER = 6.4  # as wide as a digit of an axis is
WIDE = 520.0  # drawn so wide, text stays legible on a telephone


@dataclass(frozen=True)
class Shown:
    """One line of a chart of intervals: its sort (which mark), its name, value and limits, None where there is none.

    least, most: what is left open where no one value is known. blind: too few frames for an interval that says anything.
    """

    sort: str
    name: str
    value: float | None
    low: float | None
    high: float | None
    least: float | None = None
    most: float | None = None
    blind: bool = False


def shown(sort: str, name: str, e: Estimate) -> Shown:
    """An estimate as a line of a chart."""
    blind = says_nothing(e)
    low, high = (None, None) if blind else (e.low, e.high)
    return Shown(sort, name, e.value, low, high, e.value_from, e.value_to, blind)


def reach(shown: Sequence[Shown]) -> tuple[float, float]:
    """From where to where an axis goes: every value, 0, and the limits, but for those that lie very far beyond the others.

    What is cut off is drawn as an arrow with the limit written beside it. Otherwise one site of two frames would press the
    intervals of all others into a line.
    """
    ends = [[v for v in (s.value, s.low, s.high, s.least, s.most) if v is not None] for s in shown]
    values = [v for s in shown for v in (s.value, s.least, s.most) if v is not None]
    low = -_far([-min(e) for e in ends if e], [-v for v in values])
    return low, _far([max(e) for e in ends if e], values) or (1.0 if low == 0 else 0.0)


def _far(ends: Sequence[float], values: Sequence[float]) -> float:
    """How far an axis goes to one side: all the way, unless that is over 1.5 times of every value and twice the middle end."""
    ends = [e for e in ends if e > 0]
    if not ends:
        return 0.0
    fair = max(*values, 2 * median_low(ends), 0.0)
    return max(ends) if max(ends) <= CUT * fair else fair


LINE = 15.0  # of a strip: as high as the lines of the table beside it, so that each mark stands beside its number


def strip(title: str, shown: Sequence[Shown], span: tuple[float, float], words: Words, unit: str) -> Markup:
    """Intervals on an axis that others share: no names, since the lines beside tell them; the axis above, as high as a line."""
    wide, high = 165.0, LINE * (max(len(shown), 1) + 1)
    p = Picture(wide, high, title, described(shown, words, unit))
    x = Scale(*span, 6, wide - 6)
    p.line(6, LINE, wide - 6, LINE, "axis")
    for t, told, anchor in _ticks(p, x, words, "", 5):
        p.line(x.at(t), LINE, x.at(t), high, "zero" if t == 0 else "grid")
        p.text(_inside(p, x.at(t), anchor), LINE - 4, told, "tick", anchor)
    for i, s in enumerate(shown):
        _interval(p, x, (i + 1.5) * LINE, s, None)
    return p.done()


def _ticks(p: Picture, x: Scale, words: Words, unit: str, most: int) -> list[tuple[float, str, str]]:
    """Values of an axis, as many as have room for their numbers; each with its text and where that is held."""
    for about in range(most, 0, -1):
        told = [(t, words.of(t, unit) if t else "0") for t in ticks(x.low, x.high, about)]
        ends = [(x.at(t) - LETTER * len(text) / 2, x.at(t) + LETTER * len(text) / 2) for t, text in told]
        if all(before[1] + LETTER < after[0] for before, after in pairwise(ends)):
            break
    held = ["start" if start < 0 else "end" if end > p.width else "middle" for start, end in ends]
    return [(t, text, anchor) for (t, text), anchor in zip(told, held, strict=True)]


def _inside(p: Picture, at: float, anchor: str) -> float:
    """Where a text begins, ends or has its middle so that it stays within the picture."""
    return {"start": 1.0, "end": p.width - 1}.get(anchor, at)


def _interval(p: Picture, x: Scale, y: float, s: Shown, words: Words | None) -> None:
    """The interval, its ends as strokes; an end beyond the axis as an arrow and in words, where these do not stand beside it.

    Of too few frames: arrows to both ends of the axis without a number.
    """
    if s.blind:
        p.line(x.start, y, x.end, y, f"blind interval {s.sort}")
        for at, out in ((x.start, -1), (x.end, 1)):
            p.path([(at - out * 6, y - 4), (at, y), (at - out * 6, y + 4)], f"beyond interval {s.sort}")
    if s.low is not None and s.high is not None:
        p.line(x.at(s.low), y, x.at(s.high), y, f"interval {s.sort}")
        for end, out, anchor in ((s.low, -1, "start"), (s.high, 1, "end")):
            at = x.at(end)
            if x.low <= end <= x.high:
                p.line(at, y - 3.5, at, y + 3.5, f"interval {s.sort}")
            else:
                p.path([(at - out * 6, y - 4), (at, y), (at - out * 6, y + 4)], f"beyond interval {s.sort}")
                if words:
                    told = words("to {end}", end=words.number(end))
                    at = _clear(at - out * 9, out * LETTER * len(told), x.at(s.value) if s.value is not None else None)
                    p.text(at, y - 4, told, "tick", anchor)
    if s.value is not None:
        p.mark(x.at(s.value), y, s.sort)
    elif s.least is not None and s.most is not None:
        p.box(x.at(s.least), y - 4, x.at(s.most) - x.at(s.least), 8, "unknown")


def _clear(at: float, long: float, mark: float | None) -> float:
    """Where a text of that length (negative: to the right) ends, so that it does not lie over the mark."""
    if mark is None or not min(at, at - long) - 7 < mark < max(at, at - long) + 7:
        return at
    return mark - 7 if long > 0 else mark + 7


def intervals(
    title: str, shown: Sequence[Shown], words: Words, unit: str, span: tuple[float, float] | None = None
) -> Markup:
    """Named intervals, one below the other, on one axis with its unit."""
    low, high = span or reach(shown)
    bottom = ROW * len(shown) + 8
    p = Picture(WIDE, bottom + 34, title, described(shown, words, unit))
    longest = max((len(s.name) for s in shown), default=0)
    start = min(300.0, max(100.0, longest * 9.4 + 12))
    x = Scale(low, high, start, WIDE - 18)
    for t, told, anchor in _ticks(p, x, words, unit, 5):
        p.line(x.at(t), 2, x.at(t), bottom, "zero" if t == 0 else "grid")
        p.text(_inside(p, x.at(t), anchor), bottom + 15, told, "tick", anchor)
    for i, s in enumerate(shown):
        y = 14 + i * ROW
        p.text(start - 10, y + 4, s.name if len(s.name) <= 34 else s.name[:33] + "…", "", "end")
        _interval(p, x, y, s, words)
        if s.value is None and s.low is None and s.most is None:
            p.text(start + 4, y + 4, words("cannot tell"), "quiet")
    p.text(WIDE - 18, bottom + 31, words.unit(unit), "tick", "end")
    return p.done()


def described(shown: Sequence[Shown], words: Words, unit: str) -> str:
    """What a chart of intervals shows, as sentences."""
    told = []
    for s in shown:
        value = words("cannot tell")
        if s.value is not None:
            value = words.of(s.value, unit)
        elif s.least is not None and s.most is not None:
            value = words.span(s.least, s.most, unit)
        between = "" if s.low is None or s.high is None else f" ({words.span(s.low, s.high, unit)})"
        if s.blind:
            between = f" ({words('too few frames: the interval says nothing')})"
        told.append(s.name + words(": ") + value + between)
    return words("; ").join(told) + (f". {words.unit(unit)}." if words.unit(unit) else ".")


def dots(title: str, groups: Sequence[tuple[Shown, Sequence[float]]], words: Words, unit: str, told: str) -> Markup:
    """Every frame as a faint ring behind the mean and interval of its kind of plot; equal ones stand beside each other."""
    values = [v for _, found in groups for v in found]
    low, high = reach([g for g, _ in groups] + [Shown("", "", max(values, default=0.0), None, None)])
    rows, start = 46.0, 170.0
    bottom = rows * len(groups) + 6
    p = Picture(WIDE, bottom + 34, title, told)
    x = Scale(low, high, start, WIDE - 18)
    for t, label, anchor in _ticks(p, x, words, "", 5):
        p.line(x.at(t), 2, x.at(t), bottom, "zero" if t == 0 else "grid")
        p.text(_inside(p, x.at(t), anchor), bottom + 15, label, "tick", anchor)
    for i, (shown, found) in enumerate(groups):
        y = 26 + i * rows
        p.text(start - 12, y + 1, shown.name, "", "end")
        piles: dict[int, int] = {}
        for v in sorted(found):
            at = round(x.at(v) / 5)
            piles[at] = nth = piles.get(at, 0) + 1
            side = (nth // 2) * 4.2 * (1 if nth % 2 else -1)
            p.circle(x.at(v), y + max(-20.0, min(20.0, side)), 2.6, "frame")
        _interval(p, x, y, shown, words)
    p.text(WIDE - 18, bottom + 31, words.unit(unit), "tick", "end")
    return p.done()


def over_time(
    title: str,
    rounds: Mapping[str, Sequence[tuple[dt.date, Shown]]],
    words: Words,
    unit: str,
    down: Sequence[dt.date],
) -> Markup:
    """Rounds in order of time, each kind of plot with its own mark and interval; days of planting as dotted lines.

    Nothing joins the marks: between two surveys nobody looked.
    """
    every = [(day, s) for told in rounds.values() for day, s in told]
    days = [d for d, _ in every] + list(down)
    low, high = reach([s for _, s in every])
    p = Picture(
        WIDE, 250, title, words("; ").join(words.day(d) + words(": ") + described([s], words, unit) for d, s in every)
    )
    x = Scale(min(days).toordinal() - 20, max(days).toordinal() + 20, 56, WIDE - 16)
    y = Scale(low, high, 205, 20)
    for t in ticks(low, high):
        p.line(56, y.at(t), WIDE - 16, y.at(t), "zero" if t == 0 else "grid")
        p.text(50, y.at(t) + 4, words.number(t), "tick", "end")
    _time_axis(p, x, min(days), max(days), 205, words)
    for day in sorted(set(down)):
        p.line(x.at(day.toordinal()), 12, x.at(day.toordinal()), 205, "planted")
    for i, told in enumerate(rounds.values()):
        for day, s in told:
            at = x.at(day.toordinal()) + (i - 1) * 7
            if s.low is not None and s.high is not None:
                p.line(at, y.at(s.low), at, y.at(s.high), f"interval {s.sort}")
            if s.value is not None:
                p.mark(at, y.at(s.value), s.sort)
    at = 56.0
    for sort, told in rounds.items():
        if told:
            p.mark(at + 6, 240, sort)
            p.text(at + 16, 244, told[0][1].name, "tick")
            at += 28 + 8.5 * len(told[0][1].name)
    if down:
        p.line(at + 6, 233, at + 6, 247, "planted")
        p.text(at + 14, 244, words("put down"), "tick")
    p.text(4, 10, words.unit(unit), "tick")
    return p.done()


def _time_axis(p: Picture, x: Scale, first: dt.date, last: dt.date, y: float, words: Words) -> None:
    months = (last.year - first.year) * 12 + last.month - first.month + 1
    step = next((s for s in (1, 3, 6, 12, 24, 60) if months / s <= 8), 120)
    for n in range(first.year * 12 + first.month - 1, last.year * 12 + last.month + 1):
        if n % step:
            continue
        day = dt.date(n // 12, n % 12 + 1, 1)
        if x.low <= day.toordinal() <= x.high:
            at = x.at(day.toordinal())
            p.line(at, y, at, y + 4, "axis")
            p.text(at, y + 16, f"{day.year}" if step >= 12 else words.month(day), "tick", "middle")
    p.line(x.start, y, x.end, y, "axis")


def warm_days(title: str, days: Mapping[str, Sequence[tuple[dt.date, float]]], words: Words) -> Markup:
    """Daily means of each logger; where a day is missing the line is broken."""
    every = [d for told in days.values() for d in told]
    low, high = min(v for _, v in every), max(v for _, v in every)
    first, last = min(d for d, _ in every), max(d for d, _ in every)
    told = words("; ").join(
        words("{logger}: from {low} to {high} °C, days: {n}", logger=name, n=len(found), low=words.number(min(v for _, v in found)),
              high=words.number(max(v for _, v in found)))
        for name, found in days.items()
    )  # fmt: skip
    p = Picture(WIDE, 210, title, told)
    x = Scale(first.toordinal() - 2, last.toordinal() + 2, 50, WIDE - 16)
    y = Scale(low - 0.5, high + 0.5, 170, 10)
    for t in ticks(low - 0.5, high + 0.5):
        p.line(50, y.at(t), WIDE - 16, y.at(t), "grid")
        p.text(44, y.at(t) + 4, words.number(t), "tick", "end")
    _time_axis(p, x, first, last, 170, words)
    for found in days.values():
        run: list[tuple[float, float]] = []
        before = None
        for day, value in found:
            if before is not None and (day - before).days > 1:
                p.path(run, "curve")
                run = []
            run.append((x.at(day.toordinal()), y.at(value)))
            before = day
        p.path(run, "curve")
    p.text(WIDE - 16, 205, "°C", "tick", "end")
    return p.done()
