"""What was told of plants beside their number: how many were fertile, what they cover, how long they are."""

import datetime as dt
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from functools import partial
from typing import NamedTuple

from pipeline.indicators.cells import Around, Cell, Rows, in_context
from pipeline.indicators.cover import UNIT as GROUND
from pipeline.indicators.cover import cover
from pipeline.indicators.density import UNIT as PER_M2
from pipeline.indicators.density import density
from pipeline.indicators.estimate import Estimate, not_estimable
from pipeline.indicators.figure import Figure, Scope, scope
from pipeline.indicators.lengths import UNIT as CM
from pipeline.indicators.lengths import mean_length, median_length
from pipeline.indicators.remember import Memory
from pipeline.plural import n_of

FERTILE, COVER, MEAN, MEDIAN = "fertile plants", "cover", "mean length", "median length"
LEAST_PLANTS = 3  # to be measured at a site and round: common practice, no source
LENGTHS: Mapping[str, Callable[[Sequence[Sequence[float]]], Estimate]] = {MEAN: mean_length, MEDIAN: median_length}


class Bearing(NamedTuple):
    """So many frames with so many fertile plants (None: nobody told) on so many m2."""

    fertile: int | None
    area_m2: Decimal
    frames: int


class Covered(NamedTuple):
    """So many frames with so many of their points hit, or so much cover in per cent (None and None: nobody told)."""

    points: int | None
    hits: int | None
    cover_pct: Decimal | None
    frames: int


class Long(NamedTuple):
    """So many plants of a frame of that length in cm (None and None: not measured)."""

    frame: str | None
    length_cm: Decimal | None
    plants: int


@dataclass(frozen=True)
class Measured:
    """Frames by cell (of cover also of stages told by nobody: "any"); lengths by cell of all stages together."""

    fertile: Mapping[Cell, Sequence[Bearing]]
    covered: Mapping[Cell, Sequence[Covered]]
    lengths: Mapping[Cell, Sequence[Long]]


def measured(told: Measured, around: Around, memory: Memory) -> list[Figure]:
    """Fertile plants, cover and lengths of every site, kind of plot, species and round that tells of them."""
    figures = []
    for cell, bearing in sorted(told.fertile.items()):
        estimate = memory.recall(
            FERTILE, _scope(cell), [_sorted(bearing), around.zero_k], partial(_fertile, bearing, around.zero_k)
        )
        figures.append(Figure(FERTILE, _scope(cell), in_context(estimate, cell, around)))
    for cell, covered in sorted(told.covered.items()):
        estimate = memory.recall(COVER, _scope(cell), _sorted(covered), partial(_cover, covered))
        figures.append(Figure(COVER, _scope(cell), in_context(estimate, cell, around)))
    for cell, plants in sorted(told.lengths.items()):
        for name, method in LENGTHS.items():
            estimate = memory.recall(name, _scope(cell), _sorted(plants), partial(_length, plants, method))
            figures.append(Figure(name, _scope(cell), in_context(estimate, cell, around)))
    return figures


def _scope(cell: Cell) -> Scope:
    return scope(
        site=cell.site, plot_kind=cell.plot_kind, species=cell.species, stage=cell.stage, survey=cell.round_on, protocol=cell.protocol
    )  # fmt: skip


def _sorted(told: Sequence[Sequence[object]]) -> list[list[str]]:
    return sorted(list(map(str, t)) for t in told)


def _left_out(n: int, what: str) -> str:
    return f"{what} left out: {n_of(n, 'frame')}" if n else ""


def _fertile(told: Sequence[Bearing], zero_k: float) -> Estimate:
    known = Rows((t.fertile, t.area_m2, t.frames) for t in told if t.fertile is not None)
    unknown = sum(t.frames for t in told if t.fertile is None)
    if not known:
        return not_estimable("of no frame it is known how many were fertile", unit=PER_M2, n=0, n_of="frames")
    biased = "with plants of which nobody told how many were fertile,"
    return density(*known.columns(), zero_k=zero_k).with_cautions(_left_out(unknown, biased))


def _cover(told: Sequence[Covered]) -> Estimate:
    known = [t for t in told if t.hits is not None or t.cover_pct is not None]
    unknown = sum(t.frames for t in told) - sum(t.frames for t in known)
    sorts = {t.hits is not None for t in known}
    if len(sorts) > 1:
        return not_estimable(
            "frames differ: points in some, estimated cover in others",
            unit=GROUND,
            n=sum(t.frames for t in known),
            n_of="frames",
        )
    frames: list[tuple[float, int | None]] = []
    for t in known:
        if t.hits is not None and t.points is not None and t.hits > t.points:
            return not_estimable(
                f"more points hit ({t.hits}) than there were ({t.points})", unit=GROUND, n=t.frames, n_of="frames"
            )
        one = (float(t.hits), t.points) if t.hits is not None else (float((t.cover_pct or Decimal(0)) / 100), None)
        frames += [one] * t.frames
    return cover(frames).with_cautions(_left_out(unknown, "whose cover of it nobody told,"))


def _length(told: Sequence[Long], method: Callable[[Sequence[Sequence[float]]], Estimate]) -> Estimate:
    frames: dict[str, list[float]] = {}
    for t in told:
        if t.frame is not None and t.length_cm is not None:
            frames.setdefault(t.frame, []).extend([float(t.length_cm)] * t.plants)
    every, here = sum(t.plants for t in told), sum(map(len, frames.values()))
    if 2 * here < every:
        why = f"only {here} of {n_of(every, 'plant')} were measured one by one, and nobody knows which"
        return not_estimable(why, unit=CM, n=here, n_of="plants")
    if here < LEAST_PLANTS:
        why = f"only {n_of(here, 'plant was', 'plants were')} measured one by one: it needs {LEAST_PLANTS}"
        return not_estimable(why, unit=CM, n=here, n_of="plants")
    some = f"of {n_of(every, 'plant')} {here} were measured: if not by chance, they are not like the others"
    return method(list(frames.values())).with_cautions(some if here < every else "")


def cell_of(site: str, kind: str, species: str, stage: str, day: dt.date, protocol: str) -> Cell:
    """The cell of frames laid in plots."""
    return Cell(site, kind, species, stage, day, protocol, "plot")
