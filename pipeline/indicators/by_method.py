"""What each method brought: recruits beyond control where it alone was put down, in all, per unit and over sites.

Recruits in all are the difference of densities times the area of the plots counted, so they rest on frames that lie over
the whole of these plots. Limits are scaled with the value: area and units are taken as exact.
"""

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass, replace
from decimal import Decimal
from functools import partial
from typing import NamedTuple

from pipeline.indicators.cells import Around, Cell, Frames, Rows, before_planting, compared, in_context
from pipeline.indicators.compare import not_comparable
from pipeline.indicators.contrast import difference
from pipeline.indicators.estimate import Estimate, not_estimable
from pipeline.indicators.fair import unfair
from pipeline.indicators.figure import Figure, Scope, scope
from pipeline.indicators.left_out import NOT_FAIR
from pipeline.indicators.over_sites import cautions, figure
from pipeline.indicators.remember import Memory
from pipeline.indicators.site_means import difference_over_sites
from pipeline.plural import n_of
from pipeline.rules.recruitment import RecruitmentRules

BEYOND, PER_UNIT, OVER_SITES = "recruits beyond control", "recruits per unit", "recruits beyond control by method"
RECRUITS, PER = "recruits", "recruits per unit"
SHARED = "where several methods were put down at a site, the same control frames serve all of them"


class Ground(NamedTuple):
    """Treated plots counted in a round in which a method was put down and no other: m2, pieces, days since the first.

    None where it never lay alone.
    """

    area_m2: Decimal | None
    pieces: int | None
    days: int | None


@dataclass(frozen=True)
class Methods:
    """What methods did at each site and round.

    frames   of treated plots where the method lies alone, by the treated cell (of recruits) and the method.
    ground   by the same without species: every method put down in treated plots that were counted.
    """

    frames: Mapping[str, Frames]
    ground: Mapping[tuple[str, str], dict[str, Ground]]  # (site, round and protocol as told by `place`) -> method
    rules: RecruitmentRules
    first_meaningful_day: int


def place(cell: Cell) -> tuple[str, str]:
    """Where ground is told: a site, and a round under a protocol."""
    return (cell.site, f"{cell.round_on} {cell.protocol}")


def of_methods(frames: Frames, methods: Methods, around: Around, memory: Memory) -> list[Figure]:
    """Recruits of each method at each site and round after planting, and over sites; refusals where nothing is fair."""
    figures = []
    fair: dict[tuple[str, str, str], dict[str, tuple[Cell, float, int]]] = defaultdict(dict)
    tried: dict[tuple[str, str, str], set[str]] = defaultdict(set)
    for cell in sorted(frames, key=lambda c: (c.site, c.species, c.protocol, c.round_on, c)):
        if (cell.plot_kind, cell.stage, cell.placed) != ("treated", "recruit", "plot") or before_planting(cell, around):
            continue
        for method, ground in sorted(methods.ground.get(place(cell), {}).items()):
            what = scope(
                site=cell.site, species=cell.species, stage=cell.stage, survey=cell.round_on, protocol=cell.protocol, method=method
            )  # fmt: skip
            minus = _minus(cell, method, ground, what, frames, methods, around, memory)
            figures += [Figure(name, what, told) for name, told in _scaled(minus, ground)]
            of = (cell.species, cell.protocol, method)
            tried[of].add(cell.site)
            if minus.value is not None and cell.site not in fair[of]:
                fair[of][cell.site] = (cell, minus.value, ground.days or 0)
    return figures + [_over_sites(of, fair[of], sites, methods, around, memory) for of, sites in sorted(tried.items())]


def _minus(
    cell: Cell,
    method: str,
    ground: Ground,
    what: Scope,
    frames: Frames,
    methods: Methods,
    around: Around,
    memory: Memory,
) -> Estimate:
    """The method's treated frames less the site's control frames, per m2."""
    own, other = methods.frames.get(method, {}), cell._replace(plot_kind="control")
    rows = own.get(cell, Rows())
    if refused := _refusal(cell, method, ground, frames, methods, around):
        return not_estimable(refused, unit="per m2", n=rows.n, n_of="frames")
    control = frames[other]
    inputs = [rows.told, control.told, around.zero_k]
    make = partial(compared, difference, rows, control, zero_k=around.zero_k)
    estimate = memory.recall(BEYOND, what, inputs, make)
    return estimate if estimate.state == "not estimable" else in_context(estimate, cell, around)


def _refusal(cell: Cell, method: str, ground: Ground, frames: Frames, methods: Methods, around: Around) -> str:
    """Why a method's recruits cannot be told at that site and round, or ""."""
    if not ground.area_m2 or not ground.pieces or ground.days is None:
        return "it was put down only in plots where another method was too: whose recruits those are nobody can tell"
    needed = methods.rules.first_day(cell.species, method, methods.first_meaningful_day)
    if ground.days < needed:
        return f"too early: day {ground.days} of the {needed} after which recruits show"
    if refused := not_comparable(cell, frames, around):
        return refused
    own = methods.frames.get(method, {})
    if cell not in own:
        return f"in its plots no frame tells of {cell.species}, {cell.stage}"
    other = cell._replace(plot_kind="control")
    return unfair({"treated": cell, "control": other}, {cell: own[cell], other: frames[other]}, around)


def _scaled(minus: Estimate, ground: Ground) -> list[tuple[str, Estimate]]:
    """The difference times the plots' area, and that over the units put down there."""
    if minus.value is None or ground.area_m2 is None or not ground.pieces or ground.days is None:
        return [(BEYOND, replace(minus, unit=RECRUITS)), (PER_UNIT, replace(minus, unit=PER))]
    units = f"{n_of(ground.pieces, 'unit')} put down there, the first {n_of(ground.days, 'day')} before"
    on = f"on {ground.area_m2.normalize():f} m2 of plots, {units}"
    area = float(ground.area_m2)
    beyond = _times(minus, area, RECRUITS, on)
    if minus.low is None or minus.high is None:
        why = f"the difference to control plots has no interval; {minus.note}"
    elif minus.low <= 0 <= minus.high:
        why = (
            f"cannot tell whether there are more recruits than in control plots ({minus.low * area:.4g} to "
            f"{minus.high * area:.4g} beyond them): recruits per unit would be made of chance"
        )
    elif minus.high < 0:
        why = "there are fewer recruits than in control plots"
    else:
        return [(BEYOND, beyond), (PER_UNIT, _times(minus, area / ground.pieces, PER, on))]
    return [(BEYOND, beyond), (PER_UNIT, replace(_refused(why, minus, PER), cautions=minus.cautions))]


def _times(e: Estimate, factor: float, unit: str, on: str) -> Estimate:
    value, low, high = (None if v is None else v * factor for v in (e.value, e.low, e.high))
    return replace(e, unit=unit, value=value, low=low, high=high, note=f"{on}; {e.note}")


def _refused(why: str, e: Estimate, unit: str) -> Estimate:
    return not_estimable(why, unit=unit, n=e.n, n_of=e.n_of, estimator=e.estimator)


def _over_sites(
    of: tuple[str, str, str], fair: Mapping[str, tuple[Cell, float, int]], tried: set[str], methods: Methods, around: Around,
    memory: Memory,
) -> Figure:  # fmt: skip
    """The mean over sites, each in its first round in which recruits of the method can be expected and fairly compared."""
    species, protocol, method = of
    cells = {site: cell for site, (cell, *_) in fair.items()}
    days = sorted(day for *_, day in fair.values())
    shared = any(
        sum(g.area_m2 is not None for g in methods.ground[place(cell)].values()) > 1 for cell in cells.values()
    )
    beside = cautions(cells, methods.frames.get(method, {}), around, NOT_FAIR, tried - set(fair))
    if days:
        when = n_of(days[0], "day") if days[0] == days[-1] else f"{days[0]} to {n_of(days[-1], 'day')}"
        beside.append(f"each site's first fair round, {when} after the method was first put down")
    what = scope(site="all", species=species, stage="recruit", protocol=protocol, method=method)
    values = {site: value for site, (_, value, _) in fair.items()}
    return figure(OVER_SITES, what, values, difference_over_sites, memory, [*beside, *([SHARED] if shared else [])])
