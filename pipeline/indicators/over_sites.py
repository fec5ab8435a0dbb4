"""Densities and differences over the sites of one season, the site as unit: which sites count, and what stands beside."""

from collections import defaultdict
from collections.abc import Callable, Collection, Iterable, Mapping
from functools import partial
from typing import NamedTuple

from pipeline.indicators.cells import Around, Cell, Frames, before_planting, too_early
from pipeline.indicators.compare import not_comparable
from pipeline.indicators.estimate import Estimate
from pipeline.indicators.fair import ALIKE, frame_size
from pipeline.indicators.figure import Figure, Scope, scope
from pipeline.indicators.left_out import NOT_FAIR, TOO_EARLY, named
from pipeline.indicators.remember import Memory
from pipeline.indicators.site_means import difference_over_sites, geometric_over_sites, mean_over_sites

MEAN, GEOMETRIC, DIFFERENCE = "density over sites", "geometric density over sites", "treated minus control over sites"
BOTH = "treated and control"


class Season(NamedTuple):
    """What a mean over sites is of."""

    plots: str
    species: str
    stage: str
    protocol: str
    season: str

    @property
    def scope(self) -> Scope:
        """As a figure's scope: the kind of plot where it is of one."""
        return scope(
            site="all", plot_kind=None if self.plots == BOTH else self.plots, species=self.species, stage=self.stage,
            protocol=self.protocol, season=self.season,
        )  # fmt: skip


def seasons_of(frames: Frames, around: Around, plots: str) -> dict[Season, dict[str, Cell]]:
    """The cell of every site in a season, in its last round there that counted these plots; treated ones for both."""
    found: dict[Season, dict[str, Cell]] = defaultdict(dict)
    kind = "treated" if plots == BOTH else plots
    for cell in sorted(frames):
        if cell.plot_kind != kind or cell.placed != "plot":
            continue
        season = around.seasons[cell.site, cell.round_on]
        if around.last.get((cell.site, cell.protocol, season, plots)) == cell.round_on:
            found[Season(plots, cell.species, cell.stage, cell.protocol, season)][cell.site] = cell
    return dict(found)


def over_sites(frames: Frames, around: Around, memory: Memory) -> list[Figure]:
    """Means of every kind of plot, and of the difference between treated and control, over the sites of each season."""
    figures = []
    for plots in ("treated", "control", "reference"):
        for season, cells in sorted(seasons_of(frames, around, plots).items()):
            planted = {s: c for s, c in cells.items() if plots != "treated" or not before_planting(c, around)}
            used = {s: c for s, c in planted.items() if plots != "treated" or not too_early(c, around)}
            beside = cautions(used, frames, around, TOO_EARLY, set(planted) - set(used))
            densities = {site: _density(frames, cell) for site, cell in used.items()}
            for name, method in ((MEAN, mean_over_sites), (GEOMETRIC, geometric_over_sites)):
                if planted:
                    figures.append(figure(name, season.scope, densities, method, memory, beside))
    for season, cells in sorted(seasons_of(frames, around, BOTH).items()):
        planted = {s: c for s, c in cells.items() if not before_planting(c, around)}
        used = {s: c for s, c in planted.items() if not not_comparable(c, frames, around)}
        beside = cautions(used, frames, around, NOT_FAIR, set(planted) - set(used))
        changes = {
            site: _density(frames, cell) - _density(frames, cell._replace(plot_kind="control"))
            for site, cell in used.items()
        }
        if planted:
            figures.append(figure(DIFFERENCE, season.scope, changes, difference_over_sites, memory, beside))
    return figures


def figure(
    name: str,
    what: Scope,
    values: Mapping[str, float],
    method: Callable[[Mapping[str, float]], Estimate],
    memory: Memory,
    beside: Iterable[str],
) -> Figure:
    """One figure over sites."""
    estimate = memory.recall(name, what, sorted(values.items()), partial(method, values))
    return Figure(name, what, estimate.with_cautions(*beside))


def cautions(
    cells: Mapping[str, Cell], frames: Frames, around: Around, why: str, left_out: Collection[str]
) -> list[str]:
    """What stands beside the sites' rounds, each with its sites; frames of unlike size; and which sites are left out."""
    told: dict[str, list[str]] = defaultdict(list)
    for site, cell in sorted(cells.items()):
        for text in around.cautions.get((site, cell.round_on), []):
            told[text].append(site)
    sizes = [frame_size(frames[cell]) for cell in cells.values()]
    unlike = "frames differ in size between sites" if sizes and max(sizes) > min(sizes) * ALIKE else ""
    return [
        *(f"{named(sites)}: {text}" for text, sites in sorted(told.items())),
        *([f"{why} {named(sorted(left_out))}"] if left_out else []),
        *([unlike] if unlike else []),
    ]


def _density(frames: Frames, cell: Cell) -> float:
    return float(frames[cell].total / frames[cell].area_m2)
