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
AT_ONCE = 5000  # figures in memory as rows of many columns
_DISTANCE = re.compile(r"\d[\d.,]* k?m away")
_CALLED = {"day": "day ", "comparedWith": "compared with ", "comparedSince": "compared since ", "cohort": "cohort of ",
           "surveyFrom": "survey from ", "samplingProtocol": "protocol ", "depthBand": "depth ", "plotKind": "plot ", "rule": "rule ", "placed": "placed: "}  # fmt: skip
_FACT_COLUMNS = "event, occurrence, subject, name, measure, value, unit, day, method, remarks"


@dataclass(frozen=True)
class Seen:
    """Which places and species figures may speak of.

    locations   site's key -> its identifier as published. blocked: sites of which something is not published.
    unseen      keys of registered sites that are not published at all: no word may name them either.
    blurred     whether any site that is registered is blurred or unseen, so that distances would tell where it is.
    hidden      species that are withheld.
    protocols   the programme's own: another one's name is a word that somebody wrote.
    partners    that agreed to publish, and so may be named.
    words       of partners that somebody agreed to, in small letters.
    """

    locations: Mapping[str, str]
    blocked: Collection[str]
    unseen: Collection[str]
    blurred: bool
    hidden: Collection[str]
    protocols: Collection[str] = ()
    partners: Collection[str] = ()
    words: Collection[str] = ()

    @cached_property
    def keys(self) -> "re.Pattern[str]":
        """Any site's key, as a word, with the word "site" before it."""
        longest_first = sorted(map(re.escape, {*self.locations, *self.unseen}), key=lambda k: (-len(k), k))
        return re.compile(rf"(?<!\w)(?:site )?({'|'.join(longest_first)})(?!\w)" if longest_first else r"(?!)")


def may_be_told(figure: Figure, seen: Seen) -> bool:
    """Whether everything that the figure rests on is published. One over several sites needs all of them."""
    if figure.indicator not in TOLD or figure.of("species") in seen.hidden or not _may_be_named(figure, seen):
        return False
    site, against = figure.of("site"), figure.of("against")
    if against and against not in seen.locations:
        return False
    if site in ("", "all") or against or "reference" in figure.indicator or "over sites" in figure.indicator:
        return not seen.blocked and (site in ("", "all") or site in seen.locations)
    return site in seen.locations and site not in seen.blocked


def _may_be_named(figure: Figure, seen: Seen) -> bool:
    """Whether nothing that the figure is told apart by names a partner or uses a word that nobody agreed to."""
    return (
        figure.of("partner") in ("", *seen.partners)
        and figure.of("protocol") in ("", *seen.protocols)
        and all(figure.of(what).casefold() in ("", *seen.words) for what in ("method", "substrate"))
    )


def rows(figures: Sequence[Figure], as_of: dt.date, seen: Seen) -> pa.Table:
    """The table of indicators: sites by their published identifiers, no distance where a site is blurred."""
    parts = [SCHEMA.empty_table()]
    for first in range(0, len(figures), AT_ONCE):
        told = [as_row(f, as_of) for f in figures[first : first + AT_ONCE]]
        for row in told:
            row["locationID"] = seen.locations.get(row["locationID"] or "", row["locationID"])
            for text in ("measurementRemarks", "cautions", "comparedWith"):
                row[text] = _discreet(row[text], seen)
            row |= {
                name: " ".join(cell.split()) for name, cell in row.items() if isinstance(cell, str)
            }  # a row is a line
        parts.append(pa.Table.from_pylist([{n: r[n] for n in SCHEMA.names} for r in told], SCHEMA))
    return pa.concat_tables(parts).combine_chunks()


def facts(table: pa.Table, programme: str) -> list[tuple[Any, ...]]:
    """Rows with a value or with bounds as facts of their site's event or the programme's, in the columns of `ar_fact`.

    What is bounded is told as words ("0.77 to 0.92"), which dwc:measurementValue allows: a number in their place would be
    averaged with others as if it were known.
    """
    made = []
    for r in (r for batch in table.to_batches(AT_ONCE) for r in batch.to_pylist()):
        value, bounds = _value(r)
        if value is None:
            continue
        site = (r["locationID"] or "all").startswith(f"{programme}:site:")
        of = [
            f"{_CALLED.get(n, '')}{r[n]}"
            for n in SCHEMA.names[SCHEMA.names.index("cautions") + 1 :]
            if n != "locationID" and r[n] is not None
        ]
        between = [f"95 % interval {r['low']:.6g} to {r['high']:.6g}"] if None not in (r["low"], r["high"]) else []
        said = [", ".join(of), *bounds, *between, f"n {r['n']} {r['nOf']}", r["measurementRemarks"], r["cautions"]]
        day = dt.date.fromisoformat(r["surveyFrom"]) if r["surveyFrom"] else None
        made.append(
            (r["locationID"] if site else f"{programme}:programme:0", None, f"{programme}:figure:{r['figureID']}", "value",
             f"figure:{r['measurementType']}", value, None, day, r["estimator"], "; ".join(filter(None, said)))
        )  # fmt: skip
    return made


def _value(row: Mapping[str, Any]) -> tuple[str | None, list[str]]:
    """The value as a text, None where there is none; beside it what to say of bounds."""
    if row["measurementValue"] is not None:
        return f"{row['measurementValue']:.6g}", []
    ends = [None if row[n] is None else f"{row[n]:.6g}" for n in ("valueFrom", "valueTo")]
    if row["state"] != "bounded" or ends == [None, None]:
        return None, []
    least, most = ends
    text = f"{least} to {most}" if least and most else f"at least {least}" if least else f"at most {most}"
    return text, ["bounds, no estimate: what was seen leaves any value within them open"]


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
