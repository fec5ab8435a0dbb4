"""Treated plots against the reference forest, counted in the same season: the share of it reached, and the difference."""

from functools import partial

from pipeline.indicators.cells import Around, Cell, Frames, Reference, compared, in_context, too_early
from pipeline.indicators.contrast import difference, ratio
from pipeline.indicators.estimate import Estimate, not_estimable
from pipeline.indicators.fair import unfair
from pipeline.indicators.figure import Figure, Scope, scope
from pipeline.indicators.remember import Memory

OVER, MINUS = "treated over reference", "treated minus reference"
UNITS = {OVER: "times reference", MINUS: "per m2"}


def against_reference(frames: Frames, around: Around, memory: Memory) -> list[Figure]:
    """Ratio and difference wherever treated plots were counted and a reference plot is registered; else refusals.

    A programme without any reference plot gets none of these figures.
    """
    figures = []
    for cell in sorted(frames):
        at = around.reference.get((cell.site, cell.round_on, cell.protocol))
        if cell.plot_kind != "treated" or cell.placed != "plot" or at is None:
            continue
        what = scope(
            site=cell.site, species=cell.species, stage=cell.stage, survey=cell.round_on, protocol=cell.protocol,
            against=at.site,
        )  # fmt: skip
        other = (
            None if at.round_on is None else cell._replace(site=at.site, plot_kind="reference", round_on=at.round_on)
        )
        told = _both(cell, other, what, frames, around, memory)
        figures += [Figure(name, what, _cautioned(estimate, cell, at, around)) for name, estimate in told]
    return figures


def _both(
    cell: Cell, other: Cell | None, what: Scope, frames: Frames, around: Around, memory: Memory
) -> list[tuple[str, Estimate]]:
    refusal = _refusal(cell, other, frames, around)
    if refusal or other is None:
        n = frames[cell].n
        return [(name, not_estimable(refusal, unit=unit, n=n, n_of="frames")) for name, unit in UNITS.items()]
    rows, reference = frames[cell], frames[other]
    inputs = [rows.told, reference.told]
    over = partial(compared, ratio, rows, reference, other="reference")
    minus = partial(compared, difference, rows, reference, zero_k=around.zero_k, other="reference")
    return [
        (OVER, memory.recall(OVER, what, inputs, over)),
        (MINUS, memory.recall(MINUS, what, [*inputs, around.zero_k], minus)),
    ]


def _refusal(cell: Cell, other: Cell | None, frames: Frames, around: Around) -> str:
    season = around.seasons[cell.site, cell.round_on]
    if other is None:
        return (
            f"no reference survey in the same season: no reference plot was counted under {cell.protocol} in the "
            f"season that began in {season}; an older survey says nothing of this year's forest"
        )
    if other not in frames:
        return (
            f"in the reference plots no frame tells of {cell.species}, {cell.stage}, in the round from {other.round_on}"
        )
    return too_early(cell, around) or unfair({"treated": cell, "reference": other}, frames, around)


def _cautioned(estimate: Estimate, cell: Cell, at: Reference, around: Around) -> Estimate:
    """With what stands beside either site, and how far off the reference lies."""
    if estimate.state == "not estimable" or at.round_on is None:
        return estimate
    if at.site == cell.site:
        also = around.cautions.get((at.site, at.round_on), [])
    else:
        far = f"{at.metres / 1000:.1f} km away" if at.metres >= 1000 else f"{at.metres:.0f} m away"
        also = [f"{at.site}: {told}" for told in around.cautions.get((at.site, at.round_on), [])]
        also.append(f"the reference forest lies at {at.site}, {far}: planting and site cannot be told apart")
    if at.round_on != cell.round_on:
        also.append(f"the reference plots were counted in the round from {at.round_on}")
    return in_context(estimate, cell, around).with_cautions(*also)
