"""Figures of recruitment and retention as an archive tells them: which may be told, and without a word that gives a place away."""

import datetime as dt
import re
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import pyarrow as pa

from pipeline.archive.package import dictionary
from pipeline.groups import recruitment, retention
from pipeline.indicators.catalogue import CATALOGUE
from pipeline.indicators.figure import Figure
from pipeline.outputs.tables import COLUMNS, as_row

TOLD = tuple(e.name for group in (recruitment, retention) for e in group.ENTRIES)
SCHEMA = pa.schema([f for f in COLUMNS if f.name != "asOf"])  # else every figure would change whenever anything happens
_DISTANCE = re.compile(r"\d[\d.,]* k?m away")
_FACT_COLUMNS = "event, occurrence, subject, name, measure, value, unit, day, method, remarks"


@dataclass(frozen=True)
class Seen:
    """Which places and species figures may speak of.

    locations   site's key -> its identifier as published. blocked: sites of which something is not published.
    unseen      keys of registered sites that are not published at all: no word may name them either.
    blurred     whether any site that is registered is blurred or unseen, so that distances would tell where it is.
    hidden      species that are withheld.
    """

    locations: Mapping[str, str]
    blocked: Collection[str]
    unseen: Collection[str]
    blurred: bool
    hidden: Collection[str]

    @cached_property
    def keys(self) -> "re.Pattern[str]":
        """Any site's key, as a word, with the word "site" before it."""
        longest_first = sorted(map(re.escape, {*self.locations, *self.unseen}), key=lambda k: (-len(k), k))
        return re.compile(rf"(?<!\w)(?:site )?({'|'.join(longest_first)})(?!\w)" if longest_first else r"(?!)")


def may_be_told(figure: Figure, seen: Seen) -> bool:
    """Whether everything that the figure rests on is published. One over several sites needs all of them."""
    if figure.indicator not in TOLD or figure.of("species") in seen.hidden:
        return False
    site, against = figure.of("site"), figure.of("against")
    if against and against not in seen.locations:
        return False
    if site in ("", "all") or against or "reference" in figure.indicator or "over sites" in figure.indicator:
        return not seen.blocked and (site in ("", "all") or site in seen.locations)
    return site in seen.locations and site not in seen.blocked


def rows(figures: Sequence[Figure], as_of: dt.date, seen: Seen) -> pa.Table:
    """The table of indicators: sites by their published identifiers, no distance where a site is blurred."""
    told = [as_row(f, as_of) for f in figures]
    for row in told:
        row["locationID"] = seen.locations.get(row["locationID"] or "", row["locationID"])
        for text in ("measurementRemarks", "cautions", "comparedWith"):
            row[text] = _discreet(row[text], seen)
        row |= {name: " ".join(cell.split()) for name, cell in row.items() if isinstance(cell, str)}  # a row is a line
    return pa.Table.from_pylist([{n: r[n] for n in SCHEMA.names} for r in told], SCHEMA)


def facts(table: pa.Table, programme: str) -> list[tuple[Any, ...]]:
    """Rows with a value as facts of their site's event or the programme's, in the columns of `ar_fact`."""
    made = []
    for r in table.to_pylist():
        if r["measurementValue"] is None:
            continue
        site = (r["locationID"] or "all").startswith(f"{programme}:site:")
        of = [
            f"{r[n]}"
            for n in SCHEMA.names[SCHEMA.names.index("cautions") + 1 :]
            if n != "locationID" and r[n] is not None
        ]
        between = [f"95 % interval {r['low']:.6g} to {r['high']:.6g}"] if None not in (r["low"], r["high"]) else []
        said = [", ".join(of), *between, f"n {r['n']} {r['nOf']}", r["measurementRemarks"], r["cautions"]]
        day = dt.date.fromisoformat(r["surveyFrom"]) if r["surveyFrom"] else None
        made.append(
            (r["locationID"] if site else f"{programme}:programme:0", None, f"{programme}:figure:{r['figureID']}", "value",
             f"figure:{r['measurementType']}", f"{r['measurementValue']:.6g}", None, day, r["estimator"], "; ".join(filter(None, said)))
        )  # fmt: skip
    return made


def measures() -> list[tuple[str, str, str, str, str]]:
    """What those facts measure: name, title, no code (none was found), unit."""
    return [(f"figure:{n}", CATALOGUE[n].title, "", CATALOGUE[n].unit, "") for n in TOLD]


def meanings() -> pa.Table:
    """The data dictionary of the indicators that are told."""
    every = [CATALOGUE[n] for n in TOLD]
    return dictionary([(e.name, e.title, e.unit, e.formula, e.estimator, e.source, e.limits) for e in every])


def _discreet(text: str | None, seen: Seen) -> str | None:
    """A text without keys of sites, and without distances where one could tell a blurred place."""
    if not text:
        return text
    text = seen.keys.sub(
        lambda m: (
            f"site {seen.locations[m[1]].rpartition(':')[2][:8]}" if m[1] in seen.locations else "a withheld site"
        ),
        text,
    )
    return _DISTANCE.sub("a withheld distance away", text) if seen.blurred else text
