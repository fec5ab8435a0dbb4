"""Treated plots against control plots of the same site, round, species and stage: as a ratio and as a difference."""

import datetime as dt
from functools import partial

from pipeline.indicators.cells import Around, Cell, Frames, Rows, compared, in_context, too_early
from pipeline.indicators.contrast import difference, ratio
from pipeline.indicators.estimate import Estimate, not_estimable
from pipeline.indicators.fair import unfair
from pipeline.indicators.figure import Figure, Scope, scope
from pipeline.indicators.recruitment import Pools, borrowed
from pipeline.indicators.remember import Memory


def compare(frames: Frames, around: Around, memory: Memory) -> list[Figure]:
    """Ratio and difference wherever treated plots were counted; a stated refusal where no comparison is fair."""
    pools, first = Pools(frames), _first_counted(frames)
    figures = []
    for cell, rows in sorted(frames.items()):
        if cell.plot_kind != "treated" or cell.placed != "plot":
            continue
        other = cell._replace(plot_kind="control")
        what = scope(
            site=cell.site, species=cell.species, stage=cell.stage, survey=cell.round_on, protocol=cell.protocol
        )
        refusal = not_comparable(cell, frames, around)
        if refusal:
            figures += [
                Figure(name, what, not_estimable(refusal, unit=unit, n=rows.n, n_of="frames"))
                for name, unit in (("treated over control", "times control"), ("treated minus control", "per m2"))
            ]
            continue
        down, counted = around.first_down.get(cell.site), first[_place(cell)]
        missing = "" if down and counted < down else "no baseline: nothing was counted here before planting"
        for name, estimate in _both(cell, what, rows, other, frames, pools, around.zero_k, memory):
            figures.append(Figure(name, what, in_context(estimate, cell, around).with_cautions(missing)))
    return figures


def not_comparable(cell: Cell, frames: Frames, around: Around) -> str:
    """Why a treated cell cannot be held against control plots of its round, or ""."""
    other = cell._replace(plot_kind="control")
    if other not in frames:
        return "no control plot was counted in this round under this protocol"
    unequal = around.unequal.get((cell.site, cell.round_on))
    if unequal:
        return f"treatments differ in more than planting: only one of the two had “{', '.join(sorted(unequal))}”"
    return too_early(cell, around) or unfair({"treated": cell, "control": other}, frames, around)


def _both(
    cell: Cell, what: Scope, rows: Rows, other: Cell, frames: Frames, pools: Pools, zero_k: float, memory: Memory
) -> list[tuple[str, Estimate]]:
    control = frames[other]
    inputs = [rows.told, control.told]
    pooled = (pools.of(cell), pools.of(other))
    minus = partial(
        compared, difference, rows, control, treated_pooled=pooled[0], control_pooled=pooled[1], zero_k=zero_k
    )
    less = memory.recall("treated minus control", what, [*inputs, str(pooled), zero_k], minus)
    return [
        (
            "treated over control",
            memory.recall("treated over control", what, inputs, partial(compared, ratio, rows, control)),
        ),
        ("treated minus control", less.with_cautions(*map(borrowed, pooled))),
    ]


def _place(cell: Cell) -> tuple[str, str, str]:
    return (cell.site, cell.species, cell.stage)


def _first_counted(frames: Frames) -> dict[tuple[str, str, str], dt.date]:
    """The first day that a species and stage were counted in a site's treated plots."""
    first: dict[tuple[str, str, str], dt.date] = {}
    for cell in frames:
        if cell.plot_kind == "treated":
            first[_place(cell)] = min(first.get(_place(cell), cell.round_on), cell.round_on)
    return first
