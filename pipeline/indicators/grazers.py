"""Grazers per m2 held against the programme's own limit: above it, below it, or cannot tell."""

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import replace

from pipeline.indicators.density import UNDECIDED
from pipeline.indicators.estimate import Estimate
from pipeline.indicators.figure import Figure, scope
from pipeline.rules.recruitment import GrazerLimit

NAME = "grazers"
ABOVE, BELOW, CANNOT_TELL = "above", "below", "cannot tell"


def grazers(figures: Sequence[Figure], limits: Iterable[GrazerLimit]) -> list[Figure]:
    """The density of each limited grazer again, wherever plots were counted, whose note begins with the answer."""
    return [
        Figure(NAME, scope(**{**dict(f.scope), "placed": None, "rule": limit.key}), _held_against(limit, f))
        for limit in limits
        for f in figures
        if f.indicator == "density" and (f.of("species"), f.of("stage")) == (limit.species, limit.stage)
    ]


def _held_against(limit: GrazerLimit, f: Figure) -> Estimate:
    e, most = f.estimate, f"the programme's limit of {limit.most_per_m2.normalize():f} per m2"
    if e.state == "not estimable":
        return e
    if e.low is None or e.high is None:
        said = f"{CANNOT_TELL}: there is no interval to hold against {most}"
    elif any(UNDECIDED in c for c in e.cautions):
        said = f"{CANNOT_TELL}: too few frames to hold against {most}"
    elif e.low > limit.most_per_m2:
        said = f"{ABOVE} {most}: the whole interval is"
    elif e.high < limit.most_per_m2:
        said = f"{BELOW} {most}: the whole interval is"
    else:
        said = f"{CANNOT_TELL}: the interval reaches across {most}"
    told = replace(e, note="; ".join(filter(None, [f"{said} ({limit.source})", e.note])))
    survey = dt.date.fromisoformat(f.of("survey"))
    late = f"written afterwards: the limit is dated {limit.dated}, this survey from {survey}"
    return told.with_cautions(late if limit.dated > survey else "")
