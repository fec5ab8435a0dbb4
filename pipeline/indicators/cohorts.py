"""Plants of one round of treated plots that are still there at a later one: apparent survival, and into a second year.

Of everything that was there at the first round nothing is a recruit any more once so many days have passed as the
programme says, and what came since mostly still is one: so plants past that stage are held against all of the first
round. Only fixed frames show the same plants; otherwise densities are held against each other.
"""

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from functools import partial
from typing import NamedTuple

from pipeline.indicators.cells import Around, Cell, Rows, compared, in_context, laid
from pipeline.indicators.estimate import Estimate, not_estimable
from pipeline.indicators.fair import unfair
from pipeline.indicators.figure import Figure, scope
from pipeline.indicators.remember import Memory
from pipeline.indicators.survival import UNIT, by_densities, in_same_frames
from pipeline.plural import n_of

SURVIVAL, SECOND_YEAR = "apparent survival", "second-year survival"
APPARENT = "apparent survival: who came in between and grew up counts as a survivor, who was overlooked as lost"


class Seen(NamedTuple):
    """So many frames alike: the name of a fixed one, its plants and those of them past the recruit stage, its area in m2.

    None: no name where frames were laid anew; no number where the protocol does not search for every stage.
    """

    fixed: str | None
    plants: int | None
    past: int | None
    area_m2: Decimal
    frames: int


Place = tuple[str, str, str]  # site, species, protocol


@dataclass(frozen=True)
class Cohorts:
    """Frames of treated plots by place and round; days on which something was put down, by site; days to outgrow."""

    seen: Mapping[Place, Mapping[dt.date, Sequence[Seen]]]
    put_down: Mapping[str, Mapping[dt.date, int]]
    recruit_days: int


def cohorts(told: Cohorts, around: Around, memory: Memory) -> list[Figure]:
    """Survival from every round after planting to the next that is late enough, and to the same season a year later."""
    figures = []
    for place, rounds in sorted(told.seen.items()):
        down = around.first_down.get(place[0])
        days = [day for day in sorted(rounds) if down is not None and day >= down]
        for nth, first in enumerate(days):
            later = days[nth + 1 :]
            grown = [day for day in later if (day - first).days >= told.recruit_days]
            figures += [_figure(SURVIVAL, place, first, day, told, around, memory) for day in (grown or later)[:1]]
            year_on = _a_year_on(place, first, around)
            if year_on in later:
                figures.append(_figure(SECOND_YEAR, place, first, year_on, told, around, memory))
    return figures


def _a_year_on(place: Place, first: dt.date, around: Around) -> dt.date | None:
    """The last round of the same season a year later, for the last round of a season."""
    site, _, protocol = place
    season = around.seasons[site, first]
    if around.last.get((site, protocol, season, "treated")) != first:
        return None
    year, month = season.split("-")
    return around.last.get((site, protocol, f"{int(year) + 1}-{month}", "treated"))


def _figure(
    name: str, place: Place, first: dt.date, second: dt.date, told: Cohorts, around: Around, memory: Memory
) -> Figure:
    site, species, protocol = place
    what = scope(site=site, plot_kind="treated", species=species, survey=second, protocol=protocol, cohort=first)
    then, now = told.seen[place][first], told.seen[place][second]
    cell = Cell(site, "treated", species, "any", second, protocol, "plot")
    if refused := _refusal(cell, first, then, now, told.recruit_days, around):
        n = sum(s.frames for s in (*then, *now))
        return Figure(name, what, not_estimable(refused, unit=UNIT, n=n, n_of="frames"))
    known = [[s for s in seen if s.plants is not None and s.past is not None] for seen in (then, now)]
    inputs = [[list(map(str, s)) for s in sorted(seen, key=str)] for seen in known]
    estimate = memory.recall(SURVIVAL, what, inputs, partial(_estimate, *known))
    before = [c for c in around.cautions.get((site, first), []) if c not in around.cautions.get((site, second), [])]
    estimate = in_context(estimate, cell, around).with_cautions(
        APPARENT, _planted_between(told.put_down.get(site, {}), first, second), *(f"first survey: {c}" for c in before)
    )
    return Figure(name, what, estimate)


def _refusal(
    cell: Cell, first: dt.date, then: Sequence[Seen], now: Sequence[Seen], recruit_days: int, around: Around
) -> str:
    between = (cell.round_on - first).days
    if between < recruit_days:
        return (
            f"too soon: {n_of(between, 'day')} after the first survey plants may still be recruits, which cannot be told from "
            f"new ones; the programme says that they are for {recruit_days}"
        )
    if any(all(s.plants is None or s.past is None for s in seen) for seen in (then, now)):
        return (
            f"not every stage of {cell.species} is searched for under {cell.protocol}: survivors may have grown into one that "
            "nobody counted"
        )
    earlier = cell._replace(round_on=first)
    rows = {c: Rows((0, s.area_m2, s.frames) for s in seen) for c, seen in ((earlier, then), (cell, now))}
    if refused := unfair({"first": earlier, "second": cell}, rows, around):
        return refused
    if all(around.frames_of[laid(c)][1] for c in rows) and len(_both(then, now)) < 2:
        return "frames are fixed, but fewer than two have the same name at both surveys: they can neither be paired nor taken as new ones"
    return ""


def _both(then: Iterable[Seen], now: Iterable[Seen]) -> list[tuple[int, int]]:
    """Plants at first and those left, of each fixed frame that was counted both times."""
    left = {s.fixed: s.past for s in now if s.fixed is not None and s.past is not None}
    return [
        (s.plants, past) for s in then if s.fixed and s.plants is not None and (past := left.get(s.fixed)) is not None
    ]


def _estimate(then: Sequence[Seen], now: Sequence[Seen]) -> Estimate:
    pairs = _both(then, now)
    if len(pairs) >= 2:
        alone = sum(s.frames for s in (*then, *now)) - 2 * len(pairs)
        left_out = f"frames that were counted at one of the two surveys only are left out: {alone}" if alone else ""
        return in_same_frames(pairs).with_cautions(left_out)
    first = Rows((s.plants or 0, s.area_m2, s.frames) for s in then)
    second = Rows((s.past or 0, s.area_m2, s.frames) for s in now)
    return compared(by_densities, first, second)


def _planted_between(put_down: Mapping[dt.date, int], first: dt.date, second: dt.date) -> str:
    units = sum(n for day, n in put_down.items() if first < day <= second)
    return (
        f"put down between the two surveys, so that some survivors may be theirs: {n_of(units, 'unit')}"
        if units
        else ""
    )
