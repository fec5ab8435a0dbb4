"""What a density is of, its frames, and what stands around them: cautions, seasons, days since planting, counterparts."""

import datetime as dt
import hashlib
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from functools import cached_property
from operator import itemgetter
from typing import NamedTuple

from pipeline.indicators.estimate import Estimate


class Cell(NamedTuple):
    """What one density is of."""

    site: str
    plot_kind: str
    species: str
    stage: str
    round_on: dt.date
    protocol: str
    placed: str


class Rows(tuple[tuple[int, Decimal, int], ...]):
    """Frames of a cell: (count, area of the frame in m2, how many such frames), of which several figures ask the same."""

    @cached_property
    def n(self) -> int:
        """How many frames there are."""
        return sum(map(itemgetter(2), self))

    @cached_property
    def total(self) -> int:
        """What was counted in all of them."""
        return sum(count * n for count, _, n in self)

    @cached_property
    def area_m2(self) -> Decimal:
        """The area of all of them."""
        return sum((area * n for _, area, n in self), Decimal(0))

    @cached_property
    def told(self) -> str:
        """A hash of them all, by which estimates of them are remembered."""
        return hashlib.sha256("\n".join(sorted(map(str, self))).encode()).hexdigest()

    def columns(self) -> tuple[list[int], list[float], list[int]]:
        """Counts, areas in m2 and how many such frames, as estimators take them."""
        return [count for count, *_ in self], [float(area) for _, area, _ in self], [n for *_, n in self]


Frames = dict[Cell, Rows]
Round = tuple[str, dt.date]  # site and first day of the round
Laid = tuple[str, str, dt.date, str]  # site, kind of plot, round, protocol


class Reference(NamedTuple):
    """The reference plots that treated plots are held against: their site, how far off in m, the round if any fits."""

    site: str
    metres: float
    round_on: dt.date | None


class Baseline(NamedTuple):
    """The last round before planting: of the same season of the year, and of any."""

    same_season: dt.date | None
    any_season: dt.date | None


class Plants(NamedTuple):
    """Plants found in a kind of plot: what they were called, their stage, and how that was judged ("" if not told)."""

    name: str
    stage: str
    basis: str


@dataclass(frozen=True)
class Around:
    """What stands around the frames of a site and round.

    withdrawn  rows that were taken back: species, stage (None: of whatever it was) and how many.
    since      days since something was put down, and the day from which recruits can show, by round and species;
               nothing for rounds before planting.
    frames_of  kinds of frame laid in plots, and whether some are fixed.
    reference, baseline   by site, round and protocol.
    last       the last round of a season, by site, protocol, season and which plots it counted.
    """

    cautions: Mapping[Round, list[str]]
    withdrawn: Mapping[Round, list[tuple[str | None, str | None, int]]]
    first_down: Mapping[str, dt.date]
    unequal: Mapping[Round, list[str]]
    off_protocol: Iterable[tuple[str, str, dt.date, str, str, str, int]]
    seasons: Mapping[Round, str]
    since: Mapping[tuple[str, dt.date, str], tuple[int, int]]
    frames_of: Mapping[Laid, tuple[tuple[str, ...], bool]]
    plants: Mapping[Laid, list[Plants]]
    reference: Mapping[tuple[str, dt.date, str], Reference]
    baseline: Mapping[tuple[str, dt.date, str], Baseline]
    last: Mapping[tuple[str, str, str, str], dt.date]
    zero_k: float


def laid(cell: Cell) -> Laid:
    """Where the cell's frames were laid, and under which protocol."""
    return (cell.site, cell.plot_kind, cell.round_on, cell.protocol)


def compared(method: Callable[..., Estimate], one: Rows, other: Rows, /, **how: object) -> Estimate:
    """What an estimator of two sets of frames (`contrast.ratio` and its like) makes of those of two cells."""
    (counts, areas, times), (other_counts, other_areas, other_times) = one.columns(), other.columns()
    return method(counts, areas, other_counts, other_areas, times=(times, other_times), **how)


def before_planting(cell: Cell, around: Around) -> bool:
    """Whether the round was before anything was put down at the site."""
    down = around.first_down.get(cell.site)
    return down is None or cell.round_on < down


def too_early(cell: Cell, around: Around) -> str:
    """Why recruits could not show yet in that round, or ""."""
    days, needed = around.since.get((cell.site, cell.round_on, cell.species), (0, 0))
    return f"too early: day {days} of the {needed} after which recruits show" if days < needed else ""


def _may_be_of(cell: Cell, species: str | None, stage: str | None) -> bool:
    """Whether a row of that species and stage would have counted in the cell. All stages together hold every stage."""
    return species in (None, cell.species) and (stage in (None, "any", cell.stage) or cell.stage == "any")


def in_context(estimate: Estimate, cell: Cell, around: Around) -> Estimate:
    """The estimate with what a reader must know of its site, round and distance from planting."""
    place = (cell.site, cell.round_on)
    cautions = list(around.cautions.get(place, []))
    taken_back = sum(n for species, stage, n in around.withdrawn.get(place, []) if _may_be_of(cell, species, stage))
    if taken_back:
        cautions.append(f"rows of these dives that were withdrawn: {taken_back}")
    if cell.plot_kind == "treated":
        early = "before anything was put down here" if before_planting(cell, around) else too_early(cell, around)
        cautions.append(early)
    return estimate.with_cautions(*cautions)
