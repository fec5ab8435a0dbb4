"""What a public page may show of what the inside ones do; whether there may be one says `public_places.py`."""

import re
from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace

from pipeline.indicators.figure import Figure
from pipeline.pages.told import Behind, Partner, Place, Site, Told

# Figures of these are never public: they speak of one partner, one donor bed, one batch or one permit.
KEPT_INSIDE = ("partner", "bed", "batch", "permit", "logger")
TOPICS_INSIDE = ("donors",)  # their notes name beds and batches
WORDED = ("method", "substrate", "category", "material")  # what partners put into words of their own
DISTANCE = re.compile(r"\d[\d.,]* k?m away")


def visible(
    told: Told, shown: Mapping[str, tuple[Place, str]], named: Collection[str] = (), words: Collection[str] = ()
) -> Told:
    """What may leave: places as they are published, no rows, no units, no people, no files, no beds; partners by a code.

    shown: place and name of every site that may be seen; "" where the name would lead there. named: partners that agreed
    to be named. words: of partners, in small letters, that somebody agreed to; figures told apart by others are left out.
    """
    codes = {p.name: p.name if p.name in named else f"partner {n}" for n, p in enumerate(told.partners, 1)}
    names = (
        re.compile(r"\b(" + "|".join(map(re.escape, sorted(codes, key=len, reverse=True))) + r")\b") if codes else None
    )

    # a distance to a place that is known tells where the other is
    guarded = any(s.key not in shown or shown[s.key][0].blur != "none" for s in told.sites)

    def coded(text: str) -> str:
        text = DISTANCE.sub("some way off", text) if guarded else text
        return names.sub(lambda m: codes[m[0]], text) if names else text

    def figure(f: Figure) -> Figure:
        e = f.estimate
        return replace(f, estimate=replace(e, note=coded(e.note), cautions=tuple(map(coded, e.cautions))))

    return replace(
        told,
        figures=[
            figure(f)
            for f in told.figures
            if not any(f.of(k) for k in KEPT_INSIDE)
            and not words_of(f) - set(words)
            and told.topics.get(f.indicator) not in TOPICS_INSIDE
        ],
        sites=[_site(s, shown.get(s.key)) for s in told.sites],
        beds=[],
        partners=[_partner(p, codes[p.name]) for p in told.partners],
        due=[],
        arrived=[],
        behind=Behind(),
    )


def words_of(figure: Figure) -> set[str]:
    """The words of partners by which a figure is told apart, in small letters."""
    return {figure.of(what).casefold() for what in WORDED} - {"", "all", "not told"}


def not_agreed(figures: Sequence[Figure], words: Collection[str]) -> list[str]:
    """Words of partners for which figures are left out of public pages, in order."""
    return sorted({w for f in figures for w in words_of(f)} - set(words))


def _partner(p: Partner, code: str) -> Partner:
    return Partner(code, [], p.rows, p.sites, [], 0)


def _site(s: Site, shown: tuple[Place, str] | None) -> Site:
    # a name may lead to the place as a position does, and what hangs there as well
    place, name = shown or (None, "")
    loggers = sorted({t.logger for t in s.warmth})
    return replace(
        s, name=name or s.key, place=place, marks="", units=[], visits=[], media=[],
        happenings=[replace(h, partner="", aside="") for h in s.happenings], warmth=[replace(t, logger=f"logger {loggers.index(t.logger) + 1}") for t in s.warmth], habitat=s.habitat if name else "",
    )  # fmt: skip
