"""The three answers for every site, on one screen, with each note told once."""

import math
import re
from collections.abc import Mapping, Sequence
from textwrap import wrap

from pipeline.indicators.figure import Figure
from pipeline.outputs.layout import WIDTH, interval_text, number, paragraph, ranges, table, value_text

# What is said of one site's cost beside its figure; here it stands in the row itself.
_IN_THE_ROW = re.compile(r"^-?[\d.]+ \S+ on [\d.]+ m2(; |$)|^on [\d.]+ m2 treated in all$")


OF_SITES = "what stands beside each site's own figures speaks of these too"


class Footnotes:
    """Notes and cautions, numbered once each in the order they are met."""

    def __init__(self) -> None:
        self.numbers: dict[str, int] = {}
        self.told = 0
        self.of_sites: set[str] = set()

    def of(self, f: Figure) -> str:
        """The numbers beside a figure. One over all sites leaves out what stands beside its sites already."""
        e, site = f.estimate, f.of("site")
        said = [t for t in (_IN_THE_ROW.sub("", text) for text in (e.note, *e.cautions)) if t]
        if site == "all":
            own = [t for t in said if t not in self.of_sites]
            said = own if len(own) == len(said) else [*own, OF_SITES]
        else:
            # a caution of a site is told beside all of them as it is when it names the site, else with the site before it
            self.of_sites |= {t if re.search(rf"\b{re.escape(site)}\b", t) else f"{site}: {t}" for t in e.cautions}
        return ranges([self.numbers.setdefault(t, len(self.numbers) + 1) for t in said])

    def lines(self, width: int) -> list[str]:
        """Every note that was met since they were last told, in full."""
        fresh = [(text, n) for text, n in self.numbers.items() if n > self.told]
        self.told = len(self.numbers)
        return [line for text, n in fresh for line in paragraph(f"{n:>4}  ", text, 6, width)]


def summary(
    figures: Sequence[Figure],
    as_of: str,
    name: str,
    sites: Mapping[str, str] | None = None,
    width: int = WIDTH,
    still_open: str = "",
) -> str:
    """The three questions for every site. Densities are those of recruits in the last round.

    as_of: the day and what was asked, in words. sites: each site's key and name. still_open: what is held or waits.
    """
    notes = Footnotes()
    figures = sorted(figures, key=_as_read)
    here = {f.of("site") for f in figures}
    named = [[key, told] for key, told in sorted((sites or {}).items()) if key in here]
    lines = wrap(f"{name}, as of {as_of}.", width)
    lines += wrap(still_open, width)
    lines += ["", *table(["site", "name"], named, width=width)] if named else []
    for question, answer in QUESTIONS.items():
        told = answer(figures, notes, width)
        beside = notes.lines(width)
        lines += ["", *wrap(question, width), "", *(told or ["Nothing can be said yet."])]
        lines += ["", "Notes", *beside] if beside else []
    return "\n".join(lines) + "\n"


def _as_read(f: Figure) -> tuple[bool, str, str, int, str]:
    """Site by site, days in order, what speaks of all sites last."""
    return (f.of("site") == "all", f.of("site"), f.of("method"), int(f.of("day") or 0), f.indicator)


ORDER = ("treated", "control", "reference", "treated minus control", "treated over control")


def _recruits(figures: Sequence[Figure], notes: Footnotes, width: int) -> list[str]:
    """A table a species; a row a site and kind of plot, and the comparisons below."""
    last: dict[tuple[str, str, str], str] = {}
    for f in figures:
        if f.indicator == "density" and f.of("stage") == "recruit" and f.estimate.state == "estimated":
            place = (f.of("species"), f.of("site"), f.of("plot_kind"))
            last[place] = max(last.get(place, ""), f.of("survey"))
    chosen = [(f, what) for f in figures if f.of("stage") == "recruit" and (what := _what(f, last))]
    lines: list[str] = []
    for species in sorted({f.of("species") for f, _ in chosen}):
        mine = sorted(
            ((f, what) for f, what in chosen if f.of("species") == species),
            key=lambda told: (told[0].of("site"), ORDER.index(told[1]), told[0].of("survey")),
        )
        rows = [
            [f"{f.of('site')} {f.of('survey')}", what, value_text(f.estimate), interval_text(f.estimate), str(f.estimate.n), _so(f),
             f.id, notes.of(f)]
            for f, what in mine
        ]  # fmt: skip
        headings = ["site, round from", "what", "value", "95 % interval", "frames", "so", "figure", "notes"]
        lines += ["", species] if lines else [species]
        lines += table(headings, rows, (2, 3, 4), width)
    return lines


def _so(f: Figure) -> str:
    """What the difference's interval allows one to say; nothing more."""
    e = f.estimate
    if f.indicator != "treated minus control":
        return ""
    if e.low is None or e.high is None:
        return "refused"
    return "more than control" if e.low > 0 else "less than control" if e.high < 0 else "cannot tell"


def _what(f: Figure, last: Mapping[tuple[str, str, str], str]) -> str:
    """What a row of the first table is called, "" when it is left out."""
    place = (f.of("species"), f.of("site"))
    if f.indicator == "density":
        return f.of("plot_kind") if f.of("survey") == last.get((*place, f.of("plot_kind"))) else ""
    if f.indicator in ("treated over control", "treated minus control"):
        return f.indicator if f.of("survey") == last.get((*place, "treated")) else ""
    return ""


def _attached(figures: Sequence[Figure], notes: Footnotes, width: int) -> list[str]:
    rows = [
        [f.of("site"), f.of("method"), f.of("day"), value_text(f.estimate), interval_text(f.estimate), str(f.estimate.n), f.id,
         notes.of(f)]
        for f in figures if f.indicator in ("unit retention", "unit retention over sites")
    ]  # fmt: skip
    headings = ["site", "method", "day", "attached", "95 % interval", "units", "figure", "notes"]
    return table(headings, rows, (2, 3, 4, 5), width) if rows else []


def _costs(figures: Sequence[Figure], notes: Footnotes, width: int) -> list[str]:
    """The area and what was paid come first: a price from a few dozen square metres is no price."""
    areas = {f.of("site"): f.estimate.value or 0.0 for f in figures if f.indicator == "treated area"}
    areas.setdefault("all", math.fsum(areas.values()))
    rows = []
    for f in figures:
        if f.indicator.endswith("per hectare"):
            m2, e = areas.get(f.of("site"), 0.0), f.estimate
            paid = "" if e.value is None else f"{e.value * m2 / 10_000:,.2f}"
            unit = e.unit.removesuffix(" per ha")
            rows.append(
                [f.of("site"), number(m2), f.indicator.removesuffix(" per hectare"), paid, unit, value_text(e),
                 interval_text(e), f.id, notes.of(f)]
            )  # fmt: skip
    headings = ["site", "planted m2", "what", "in all", "unit", "per ha", "95 % interval", "figure", "notes"]
    return table(headings, rows, (1, 3, 5, 6), width) if rows else []


QUESTIONS = {
    "DID KELP COME?  Recruits per m2 in treated plots, last survey round; and against control plots": _recruits,
    "DID THE BAGS HOLD?  Fraction of tagged units still attached after so many days (torn and empty ones hold too); a "
    "range where it fell between visits": _attached,
    "WHAT DID A HECTARE COST?  Per planted hectare (not per hectare of kelp); cash, gifts in kind and hours are never "
    "added up": _costs,
}
