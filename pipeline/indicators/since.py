"""Treated plots against controls, after planting against before it: at each site, and over sites with the site as unit."""

from collections.abc import Mapping
from functools import partial
from typing import NamedTuple

from pipeline.indicators.baci import (
    TIMES,
    Arms,
    before_after_difference,
    before_after_ratio,
    change,
    relative_change,
)
from pipeline.indicators.cells import Around, Cell, Frames, before_planting, in_context, laid
from pipeline.indicators.compare import not_comparable
from pipeline.indicators.estimate import Estimate, not_estimable
from pipeline.indicators.fair import unfair
from pipeline.indicators.figure import Figure, Scope, scope
from pipeline.indicators.left_out import NOT_FAIR, named
from pipeline.indicators.over_sites import BOTH, cautions, figure, seasons_of
from pipeline.indicators.remember import Memory
from pipeline.indicators.site_means import difference_over_sites, geometric_over_sites

RATIO, DIFFERENCE = "before-after ratio", "before-after difference"
UNITS = {RATIO: TIMES, DIFFERENCE: "per m2"}


class Four(NamedTuple):
    """The cells of one site: treated and control, after planting and before."""

    treated_after: Cell
    treated_before: Cell
    control_after: Cell
    control_before: Cell


def since_planting(frames: Frames, around: Around, memory: Memory) -> list[Figure]:
    """Both figures for every round after planting in which treated plots were counted, and over the sites of a season."""
    figures, fair = [], dict[Cell, Four]()
    for cell in sorted(frames):
        if cell.plot_kind != "treated" or cell.placed != "plot" or before_planting(cell, around):
            continue
        four, refusal = _four(cell, frames, around)
        since = four.treated_before.round_on if four else None
        what = scope(
            site=cell.site, species=cell.species, stage=cell.stage, survey=cell.round_on, protocol=cell.protocol,
            since=since,
        )  # fmt: skip
        if refusal or four is None:
            figures += [
                Figure(name, what, not_estimable(refusal, unit=unit, n=frames[cell].n, n_of="frames"))
                for name, unit in UNITS.items()
            ]
            continue
        fair[cell] = four
        now, before = (
            around.cautions.get((cell.site, day), []) for day in (cell.round_on, four.treated_before.round_on)
        )
        also = [f"before planting: {told}" for told in before if told not in now]
        for name, estimate in _both(four, what, frames, around, memory):
            figures.append(Figure(name, what, in_context(estimate, cell, around).with_cautions(*also)))
    return figures + _over_sites(fair, frames, around, memory)


def _four(cell: Cell, frames: Frames, around: Around) -> tuple[Four | None, str]:
    """The four cells, or why they cannot be compared; both where they are there and differ."""
    if refusal := not_comparable(cell, frames, around):
        return None, refusal
    baseline = around.baseline.get((cell.site, cell.round_on, cell.protocol))
    if baseline is None or baseline.any_season is None:
        return None, "no baseline: treated and control plots were not both counted here before planting"
    if baseline.same_season is None:
        return None, (
            f"no baseline in the same season: the last round before planting was from {baseline.any_season}, in another "
            "season of the year"
        )
    control = cell._replace(plot_kind="control")
    before = [c._replace(round_on=baseline.same_season) for c in (cell, control)]
    four = Four(cell, before[0], control, before[1])
    if any(c not in frames for c in four):
        return (
            four,
            f"before planting no frame tells of {cell.species}, {cell.stage}, in both treated and control plots",
        )
    return four, unfair({name.replace("_", " "): c for name, c in four._asdict().items()}, frames, around)


def _arms(four: Four, frames: Frames) -> Arms:
    return Arms(*(frames[cell].columns() for cell in four))


def _both(four: Four, what: Scope, frames: Frames, around: Around, memory: Memory) -> list[tuple[str, Estimate]]:
    fixed = any(around.frames_of[laid(cell)][1] for cell in four)
    inputs = [*(frames[cell].told for cell in four), fixed]

    def over() -> Estimate:
        return before_after_ratio(_arms(four, frames), fixed=fixed)

    def minus() -> Estimate:
        return before_after_difference(_arms(four, frames), zero_k=around.zero_k, fixed=fixed)

    return [
        (RATIO, memory.recall(RATIO, what, inputs, over)),
        (DIFFERENCE, memory.recall(DIFFERENCE, what, [*inputs, around.zero_k], minus)),
    ]


def _over_sites(fair: Mapping[Cell, Four], frames: Frames, around: Around, memory: Memory) -> list[Figure]:
    """The sites' own values, one a site: its last round of the season that counted both kinds of plot."""
    figures = []
    for season, cells in sorted(seasons_of(frames, around, BOTH).items()):
        planted = {site: cell for site, cell in cells.items() if not before_planting(cell, around)}
        fours = {site: fair[cell] for site, cell in planted.items() if cell in fair}
        fours = {site: four for site, four in fours.items() if all(frames[cell].n >= 2 for cell in four)}
        used = {site: planted[site] for site in fours}
        beside = cautions(used, frames, around, NOT_FAIR, set(planted) - set(used))
        halves = sorted(site for site, four in fours.items() if not all(frames[cell].total for cell in four))
        halved = [f"half a recruit was added to an arm without any at {named(halves)}"] if halves else []
        arms = {site: _arms(four, frames) for site, four in fours.items()}
        ratios = {site: relative_change(told) for site, told in arms.items()}
        changes = {site: change(told) for site, told in arms.items()}
        over = partial(geometric_over_sites, unit=TIMES)
        if planted:
            figures += [
                figure(f"{RATIO} over sites", season.scope, ratios, over, memory, [*beside, *halved]),
                figure(f"{DIFFERENCE} over sites", season.scope, changes, difference_over_sites, memory, beside),
            ]
    return figures
