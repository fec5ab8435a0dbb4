"""Drawing: a small picture of lines, marks and texts, with a title and a description; scales and round ticks."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from hashlib import sha256

from markupsafe import Markup, escape

# Kinds of plot are told by the shape of the mark and by words beside it; the colour only helps.
MARKS = ("treated", "control", "reference", "difference")


@dataclass(frozen=True)
class Scale:
    """From values to pixels, in a straight line."""

    low: float
    high: float
    start: float
    end: float

    def at(self, value: float) -> float:
        """The pixel of a value; beyond the ends the end itself."""
        held = min(max(value, self.low), self.high)
        return self.start + (held - self.low) / ((self.high - self.low) or 1) * (self.end - self.start)


def ticks(low: float, high: float, about: int = 5) -> list[float]:
    """Round values from low to high, some `about` of them, in steps of 1, 2 or 5 times a power of ten."""
    if not high > low:
        return [low]
    raw = (high - low) / max(about, 1)
    power = 10.0 ** math.floor(math.log10(raw))
    step = next(s * power for s in (1, 2, 5, 10) if raw <= s * power * 1.0000001)
    first = math.ceil(low / step - 1e-9)
    return [round(k * step, 12) for k in range(first, math.floor(high / step + 1e-9) + 1)]


@dataclass
class Picture:
    """A picture of width by height pixels that grows with the page. Every text is escaped here."""

    width: float
    height: float
    title: str
    told: str
    parts: list[str] = field(default_factory=list)

    def line(self, x1: float, y1: float, x2: float, y2: float, cls: str) -> None:
        """A straight line."""
        self.parts.append(f'<line class="{cls}" x1="{x1:.1f}" y1="{y1:.1f}" x2="{x2:.1f}" y2="{y2:.1f}"/>')

    def path(self, points: Sequence[tuple[float, float]], cls: str, close: bool = False) -> None:
        """A line through points."""
        told = "L".join(f"{x:.1f} {y:.1f}" for x, y in points)
        self.parts.append(f'<path class="{cls}" d="M{told}{"Z" if close else ""}"/>')

    def box(self, x: float, y: float, width: float, height: float, cls: str) -> None:
        """A rectangle."""
        self.parts.append(
            f'<rect class="{cls}" x="{x:.1f}" y="{y:.1f}" width="{max(width, 0.5):.1f}" height="{height:.1f}"/>'
        )

    def shape(self, corners: Sequence[Sequence[tuple[float, float]]], cls: str) -> None:
        """Areas that are one shape."""
        told = "".join("M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in c) + "Z" for c in corners)
        self.parts.append(f'<path class="{cls}" d="{told}"/>')

    def circle(self, x: float, y: float, r: float, cls: str) -> None:
        """A circle."""
        self.parts.append(f'<circle class="{cls}" cx="{x:.1f}" cy="{y:.1f}" r="{r:.1f}"/>')

    def mark(self, x: float, y: float, kind: str, r: float = 4.5) -> None:
        """The mark of a kind of plot: a full disc, an open square, an open diamond; a cross for a difference."""
        if kind == "treated":
            self.circle(x, y, r, "mark treated")
        elif kind == "control":
            self.box(x - r + 0.5, y - r + 0.5, 2 * r - 1, 2 * r - 1, "mark control")
        elif kind == "reference":
            self.path([(x, y - r - 1), (x + r + 1, y), (x, y + r + 1), (x - r - 1, y)], "mark reference", close=True)
        else:
            self.line(x - r, y - r, x + r, y + r, "mark difference")
            self.line(x - r, y + r, x + r, y - r, "mark difference")

    def text(self, x: float, y: float, text: str, cls: str = "", anchor: str = "start") -> None:
        """A text; anchor: start, middle or end."""
        self.parts.append(f'<text class="{cls}" x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}">{escape(text)}</text>')

    def done(self) -> Markup:
        """The picture as SVG that a screen reader reads as one image with its title and description."""
        name = "p" + sha256("".join([self.title, self.told, *self.parts]).encode()).hexdigest()[:8]
        return Markup(  # noqa: S704 - texts are escaped where they are put in
            f'<svg class="chart" role="img" aria-labelledby="{name}t {name}d" viewBox="0 0 {self.width:g} {self.height:g}" '
            f'style="max-width:{self.width:g}px" xmlns="http://www.w3.org/2000/svg">'
            f'<title id="{name}t">{escape(self.title)}</title><desc id="{name}d">{escape(self.told)}</desc>'
            f"{''.join(self.parts)}</svg>"
        )
