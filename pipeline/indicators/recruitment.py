"""Density of every species and stage, by site, kind of plot and survey round."""

import datetime as dt
from collections import defaultdict
from collections.abc import Sequence
from decimal import Decimal
from functools import partial

from pipeline.indicators.cells import Around, Cell, Frames, Rows, in_context
from pipeline.indicators.density import PooledDispersion, density, pooled_dispersion
from pipeline.indicators.estimate import Estimate, not_estimable
from pipeline.indicators.figure import Figure, scope
from pipeline.indicators.remember import Memory
from pipeline.plural import n_of

FEW = 5  # frames, up to which dispersion is pooled over comparable sites (statistics: coverage by simulation)
POOLED = "spread between frames taken from"  # beside every figure that borrows from other sites


def recruitment(frames: Frames, around: Around, memory: Memory) -> list[Figure]:
    """The density of every cell, and a stated refusal for what was counted outside the protocol."""
    pools = Pools(frames)
    figures = []
    for cell, rows in sorted(frames.items()):
        pool = pools.of(cell)
        inputs = [rows.told, str(pool), around.zero_k]
        what = _scope(cell)
        estimate = memory.recall("density", what, inputs, partial(_density, rows, pool, around.zero_k))
        name = "density" if cell.placed == "plot" else "density near units"
        figures.append(Figure(name, what, in_context(estimate, cell, around)))
    return figures + _off_protocol(around)


def _density(rows: Rows, pool: PooledDispersion | None, zero_k: float) -> Estimate:
    return density(*rows.columns(), pooled=pool, zero_k=zero_k).with_cautions(borrowed(pool))


def borrowed(pool: PooledDispersion | None) -> str:
    """The caution owed to a figure whose spread comes from other sites, or ""."""
    return f"{POOLED} {pool.sites} comparable sites" if pool else ""


def _scope(cell: Cell) -> tuple[tuple[str, str], ...]:
    return scope(
        site=cell.site, plot_kind=cell.plot_kind, species=cell.species, stage=cell.stage, survey=cell.round_on,
        protocol=cell.protocol, placed=cell.placed,
    )  # fmt: skip


def _comparable(cell: Cell) -> tuple[object, ...]:
    """Cells whose frames may share one dispersion: same species, stage, protocol, kind of plot and season."""
    return (cell.plot_kind, cell.species, cell.stage, cell.protocol, cell.placed, _season(cell.round_on))


def _season(day: dt.date) -> tuple[int, int]:
    """Year and quarter that begins in December, March, June or September."""
    return (day.year + (day.month == 12), day.month % 12 // 3)


class Pools:
    """Dispersion shared by comparable sites, for cells of five frames or fewer.

    Three or more sites must have two or more frames each, all of one size; the last round of a season stands for
    its site. Published simulations (statistics: pooled dispersion) hold for that case only.
    """

    def __init__(self, frames: Frames) -> None:
        groups: dict[tuple[object, ...], dict[str, Rows]] = defaultdict(dict)
        for cell, rows in sorted(frames.items()):
            groups[_comparable(cell)][cell.site] = rows
        self.frames, self.groups = frames, groups
        self.found: dict[tuple[object, ...], tuple[PooledDispersion | None, Decimal]] = {}

    def of(self, cell: Cell) -> PooledDispersion | None:
        """The pool to use for a cell: none when it has frames enough, or frames of another size than the pool's."""
        rows, group = self.frames[cell], _comparable(cell)
        if rows.n > FEW:
            return None
        if group not in self.found:
            self.found[group] = _pooled(list(self.groups[group].values()))
        pool, size = self.found[group]
        return pool if _same_size(sorted({size, *(area for _, area, _ in rows)})) else None


def _pooled(sites: Sequence[Rows]) -> tuple[PooledDispersion | None, Decimal]:
    """What these sites share, and the size of their frames in m2."""
    sizes = sorted({area for rows in sites for _, area, _ in rows})
    usable = [rows.columns() for rows in sites if rows.n >= 2]
    if len(usable) < 3 or not _same_size(sizes):
        return None, sizes[0]
    size = float(sizes[0])
    return pooled_dispersion([(counts, [size] * len(counts), times) for counts, _, times in usable]), sizes[0]


def _same_size(sizes: list[Decimal]) -> bool:
    """Whether frames count as equal: within one per cent, so that 2.7 square feet go with a quarter of a square metre."""
    return sizes[-1] <= sizes[0] * Decimal("1.01")


def _off_protocol(around: Around) -> list[Figure]:
    """Plants counted outside the protocol's list: unknown wherever nobody wrote them, so there is no density."""
    figures = []
    for site, plot_kind, round_on, protocol, species, stage, rows in sorted(around.off_protocol):
        why = f"outside the protocol's list: {n_of(rows, 'row tells', 'rows tell')} of it, but where none was written it may not have been looked for"
        refusal = not_estimable(why, unit="per m2", n=rows, n_of="rows")
        cell = Cell(site, plot_kind, species, stage, round_on, protocol, "plot")
        figures.append(Figure("density", _scope(cell), refusal))
    return figures
