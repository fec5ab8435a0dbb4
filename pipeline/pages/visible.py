"""What a public page may show. One small place, so that the programme's rules of publication can take its part over."""

import math
import re
from collections.abc import Collection
from dataclasses import replace

from pipeline.indicators.figure import Figure
from pipeline.pages.told import Bed, Partner, Place, Site, Told

# Figures of these are never public: they speak of one partner, one donor bed, one batch or one permit.
KEPT_INSIDE = ("partner", "bed", "batch", "permit", "logger")
TOPICS_INSIDE = ("donors",)  # their notes name beds and batches


def visible(told: Told, named: Collection[str] = ()) -> Told:
    """What may leave: positions blurred as registered, no rows, no units, no people, no files; partners by a code.

    named: partners that agreed to be named.
    """
    codes = {p.name: p.name if p.name in named else f"partner {n}" for n, p in enumerate(told.partners, 1)}
    names = (
        re.compile(r"\b(" + "|".join(map(re.escape, sorted(codes, key=len, reverse=True))) + r")\b") if codes else None
    )

    def coded(text: str) -> str:
        return names.sub(lambda m: codes[m[0]], text) if names else text

    def figure(f: Figure) -> Figure:
        e = f.estimate
        return replace(f, estimate=replace(e, note=coded(e.note), cautions=tuple(map(coded, e.cautions))))

    return replace(
        told,
        figures=[
            figure(f)
            for f in told.figures
            if not any(f.of(k) for k in KEPT_INSIDE) and told.topics.get(f.indicator) not in TOPICS_INSIDE
        ],
        sites=[_site(s) for s in told.sites],
        beds=[_bed(b) for b in told.beds if b.place is not None and b.place.blur != "withheld"],
        partners=[_partner(p, codes[p.name]) for p in told.partners],
        due=[],
        arrived=[],
        behind={},
        rows=[],
        spans={},
    )


def _partner(p: Partner, code: str) -> Partner:
    return Partner(code, [], p.rows, p.sites, [], 0)


def _site(s: Site) -> Site:
    # a name may lead to the place as a position does, and what hangs there as well
    hidden = s.place is not None and s.place.blur == "withheld"
    loggers = sorted({t.logger for t in s.warmth})
    return replace(
        s, name=s.key if hidden else s.name, place=blurred(s.place), marks="", units=[], visits=[], media=[],
        happenings=[replace(h, partner="", aside="") for h in s.happenings], warmth=[replace(t, logger=f"logger {loggers.index(t.logger) + 1}") for t in s.warmth], habitat="" if hidden else s.habitat,
    )  # fmt: skip


def _bed(b: Bed) -> Bed:
    return replace(b, place=blurred(b.place), cuttings=[])


def blurred(place: Place | None) -> Place | None:
    """The middle of the square of the registered size that the place lies in, its uncertainty grown; None when withheld."""
    if place is None or place.blur == "withheld":
        return None
    if place.blur == "none":
        return place
    step = float(place.blur)
    middle = [round(math.floor(v / step) * step + step / 2, 6) for v in (place.latitude, place.longitude)]
    return Place(middle[0], middle[1], round(step * 111_320 * math.sqrt(0.5)) + (place.uncertainty_m or 0), place.blur)
