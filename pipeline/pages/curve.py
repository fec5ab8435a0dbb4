"""The curve of what stayed: flat where it is known, a shaded box between visits where nobody can say when it fell."""

import math
from collections.abc import Sequence

from markupsafe import Markup

from pipeline.pages.svg import Picture, Scale, ticks
from pipeline.pages.told import Curve
from pipeline.pages.words import Words

Band = tuple[int, float, float]  # a day of the programme, and the limits there


def steps(curve: Curve, last: float) -> list[tuple[float, float, float, float]]:
    """From day, to day, least and most of the fraction in place between them; equal where it is known."""
    whole = math.fsum(curve.mass)
    found, at, left = [], 0.0, 1.0
    for q, p, m in zip(curve.q, curve.p, curve.mass, strict=True):
        if q > at:
            found.append((at, min(q, last), left, left))
        if math.isinf(p) or q >= last:
            at = last
            break
        fallen = max(left - m / whole, 0.0)
        found.append((q, min(p, last), fallen, left))
        at, left = p, fallen
    if at < last and not any(math.isinf(p) for p in curve.p):
        found.append((at, last, left, left))
    return [s for s in found if s[1] > s[0] or s[2] != s[3]]


def retention(
    title: str, curve: Curve, bands: Sequence[Band], words: Words, last: float, small: bool = False
) -> Markup:
    """The curve of one method's units up to the day `last`; bands: the 95 % intervals at the programme's days."""
    width, height, left, bottom = (98.0, 75.0, 5.0, 61.0) if small else (520.0, 284.0, 60.0, 215.0)
    right = width - (8 if small else 20)
    x, y = Scale(0, last, left, right), Scale(0, 1, bottom, 8)
    found = steps(curve, last)
    p = Picture(width, height, title, _told(found, words))
    for t in (0, 1) if small else (0, 0.25, 0.5, 0.75, 1):
        p.line(left, y.at(t), right, y.at(t), "axis" if t == 0 else "grid")
        if not small:
            p.text(left - 6, y.at(t) + 4, words.of(t, "fraction") if t else "0", "tick", "end")
    for t in ticks(0, last, 3 if small else 8):
        p.line(x.at(t), bottom, x.at(t), bottom + 3, "axis")
        p.text(x.at(t), bottom + (12 if small else 17), words.number(t), "tick", "middle")
    for day, low, high in bands:
        if day <= last:
            p.box(x.at(day) - (2 if small else 4), y.at(high), 4 if small else 8, y.at(low) - y.at(high), "band")
    for start, end, least, most in found:
        if least == most:
            p.line(x.at(start), y.at(most), x.at(end), y.at(most), "curve")
        else:
            p.box(x.at(start), y.at(most), x.at(end) - x.at(start), y.at(least) - y.at(most), "unknown")
    if not small:
        p.text(right, bottom + 36, words("days after being put down"), "tick", "end")
        p.line(8, bottom + 54, 30, bottom + 54, "curve")
        p.text(36, bottom + 58, words("known"), "tick")
        p.box(112, bottom + 48, 18, 11, "unknown")
        p.text(136, bottom + 58, words("fell between two looks"), "tick")
        p.box(350, bottom + 47, 8, 13, "band")
        p.text(364, bottom + 58, words("95 % interval"), "tick")
    return p.done()


def _told(found: Sequence[tuple[float, float, float, float]], words: Words) -> str:
    told = [
        words("from day {start} to {end}: {share}", start=f"{s:g}", end=f"{e:g}", share=words.of(most, "fraction"))
        if least == most
        else words(
            "between day {start} and {end} it fell from {most} to {least}", start=f"{s:g}", end=f"{e:g}",
            most=words.of(most, "fraction"), least=words.of(least, "fraction"),
        )
        for s, e, least, most in found
    ]  # fmt: skip
    return words("; ").join(told) + "."
