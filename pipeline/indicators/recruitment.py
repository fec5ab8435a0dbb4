"""Density of every species and stage, by site, kind of plot and survey round, and treated against control."""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from functools import partial
from typing import NamedTuple

from pipeline.indicators.contrast import difference, ratio
from pipeline.indicators.density import PooledDispersion, density, pooled_dispersion
from pipeline.indicators.estimate import Estimate, not_estimable
from pipeline.indicators.figure import Figure, scope
from pipeline.indicators.remember import Memory

FEW = 5  # frames, up to which dispersion is pooled over comparable sites (statistics: coverage by simulation)


class Cell(NamedTuple):
    """What one density is of."""

    site: str
    plot_kind: str
    species: str
    stage: str
    round_on: dt.date
    protocol: str
    placed: str


@dataclass(frozen=True)
class Around:
    """What stands around the frames of a site and round: cautions, days since planting, unequal preparation."""

    cautions: Mapping[tuple[str, dt.date], list[str]]
    first_down: Mapping[str, dt.date]
    unequal: Mapping[tuple[str, dt.date], list[str]]
    off_protocol: Iterable[tuple[str, str, dt.date, str, str, str, int]]
    first_meaningful_day: int
    zero_k: float


Frames = dict[Cell, list[tuple[int, Decimal, int]]]  # (count, area in m2, how many frames)


def recruitment(frames: Frames, around: Around, memory: Memory) -> list[Figure]:
    """Every density, then every contrast of treated with control plots.

    frames: for each cell, (count, area of the frame in m2, number of such frames).
    """
    pools = _pools(frames)
    figures = []
    for cell, rows in sorted(frames.items()):
        counts, areas = _spread_out(rows)
        pool = pools.get(_comparable(cell)) if len(counts) <= FEW and len(set(areas)) == 1 else None
        inputs = [sorted(map(str, rows)), str(pool), around.zero_k]
        estimate = memory.recall("density", inputs, partial(_density, counts, areas, pool, around.zero_k))
        name = "density" if cell.placed == "plot" else "density near units"
        figures.append(Figure(name, _scope(cell), _with_context(estimate, cell, around)))
    figures += _off_protocol(around)
    return figures + _contrasts(frames, around, memory)


def _density(counts: list[int], areas: list[float], pool: PooledDispersion | None, zero_k: float) -> Estimate:
    estimate = density(counts, areas, pooled=pool, zero_k=zero_k)
    if pool is None:
        return estimate
    return estimate.with_cautions(f"spread between frames taken from {pool.sites} comparable sites")


def _scope(cell: Cell) -> tuple[tuple[str, str], ...]:
    return scope(
        site=cell.site, plot_kind=cell.plot_kind, species=cell.species, stage=cell.stage, survey=cell.round_on,
        protocol=cell.protocol, placed=cell.placed,
    )  # fmt: skip


def _spread_out(rows: list[tuple[int, Decimal, int]]) -> tuple[list[int], list[float]]:
    counts = [count for count, _, n in rows for _ in range(n)]
    areas = [float(area) for _, area, n in rows for _ in range(n)]
    return counts, areas


def _comparable(cell: Cell) -> tuple[object, ...]:
    """Cells whose frames may share one dispersion: same species, stage, protocol, kind of plot and season."""
    return (cell.plot_kind, cell.species, cell.stage, cell.protocol, cell.placed, _season(cell.round_on))


def _season(day: dt.date) -> tuple[int, int]:
    """Year and quarter that begins in December, March, June or September."""
    return (day.year + (day.month == 12), day.month % 12 // 3)


def _pools(frames: Frames) -> dict[tuple[object, ...], PooledDispersion]:
    """Pooled dispersion wherever three or more sites have comparable frames of one size; one round a site."""
    groups: dict[tuple[object, ...], dict[str, tuple[list[int], list[float]]]] = defaultdict(dict)
    for cell, rows in sorted(frames.items()):  # the last round of a season stands for its site
        groups[_comparable(cell)][cell.site] = _spread_out(rows)
    pools = {}
    for group, sites in groups.items():
        usable: list[tuple[Sequence[int], Sequence[float]]] = [(c, a) for c, a in sites.values() if len(c) >= 2]
        sizes = {area for _, areas in usable for area in areas}
        pool = pooled_dispersion(usable) if len(usable) >= 3 and len(sizes) == 1 else None
        if pool is not None:
            pools[group] = pool
    return pools


def _with_context(estimate: Estimate, cell: Cell, around: Around) -> Estimate:
    cautions = list(around.cautions.get((cell.site, cell.round_on), []))
    down = around.first_down.get(cell.site)
    if cell.plot_kind == "treated":
        days = (cell.round_on - down).days if down else -1
        if days < 0:
            cautions.append("before anything was put down here")
        elif days < around.first_meaningful_day:
            cautions.append(f"too early: day {days} of the {around.first_meaningful_day} after which recruits show")
    return estimate.with_cautions(*cautions)


def _off_protocol(around: Around) -> list[Figure]:
    """Plants counted outside the protocol's list: unknown wherever nobody wrote them, so there is no density."""
    figures = []
    for site, plot_kind, round_on, protocol, species, stage, rows in sorted(around.off_protocol):
        why = f"outside the protocol's list: {rows} rows tell of it, but where none was written it may not have been looked for"
        refusal = not_estimable(why, unit="per m2", n=rows, n_of="rows")
        cell = Cell(site, plot_kind, species, stage, round_on, protocol, "plot")
        figures.append(Figure("density", _scope(cell), refusal))
    return figures


def _contrasts(frames: Frames, around: Around, memory: Memory) -> list[Figure]:
    figures = []
    for cell, rows in sorted(frames.items()):
        if cell.plot_kind != "treated" or cell.placed != "plot":
            continue
        control = frames.get(cell._replace(plot_kind="control"))
        what = scope(
            site=cell.site,
            species=cell.species,
            stage=cell.stage,
            survey=cell.round_on,
            protocol=cell.protocol,
        )
        for name, unit, method in (
            ("treated over control", "times control", ratio),
            ("treated minus control", "per m2", difference),
        ):
            refusal = _refusal(cell, control, around)
            if refusal or control is None:
                n = sum(r[2] for r in rows)
                figures.append(Figure(name, what, not_estimable(refusal, unit=unit, n=n, n_of="frames")))
                continue
            arms = (*_spread_out(rows), *_spread_out(control))
            inputs = [sorted(map(str, rows)), sorted(map(str, control))]
            estimate = memory.recall(name, inputs, partial(method, *arms))
            baseline = any(_is_baseline(c, cell, around) for c in frames)
            missing = "" if baseline else "no baseline: nothing was counted here before planting"
            figures.append(Figure(name, what, _with_context(estimate, cell, around).with_cautions(missing)))
    return figures


def _refusal(cell: Cell, control: object, around: Around) -> str:
    if control is None:
        return "no control plot was counted in this round under this protocol"
    unequal = around.unequal.get((cell.site, cell.round_on))
    if unequal:
        return f"treatments differ in more than planting: the control plots had no “{', '.join(sorted(unequal))}”"
    return ""


def _is_baseline(other: Cell, cell: Cell, around: Around) -> bool:
    down = around.first_down.get(cell.site)
    same = (other.site, other.plot_kind, other.species, other.stage) == (
        cell.site,
        "treated",
        cell.species,
        cell.stage,
    )
    return same and down is not None and other.round_on < down
