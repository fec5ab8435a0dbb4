"""Frames needed to see a doubling against the controls, planned with what the controls of the last season told."""

import datetime as dt
import math
from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from decimal import Decimal
from functools import partial
from typing import NamedTuple

from pipeline.indicators.density import pooled_dispersion
from pipeline.indicators.estimate import Estimate, not_estimable
from pipeline.indicators.figure import Figure, scope
from pipeline.indicators.frame_power import MOST_FRAMES, RUNS, power_by_frames
from pipeline.indicators.remember import Memory
from pipeline.indicators.sample_size import POWER, design_effect, frames_for_ratio, intraclass, power_of_frames
from pipeline.indicators.season import season_of

UNIT, METHOD = "frames an arm", "Zhu & Lakkis 2014, approach 2 (variance as under the doubling)"
DOUBLE = 2.0
AIM = f"planned: a doubling seen in {POWER:.0%} of cases, two-sided 5 %, arms alike; the test used here needs about 4 % more"
FEWEST_SITES = 3


class ControlFrames(NamedTuple):
    """So many control frames of a site and round in which as many were found, of one area (m2)."""

    site: str
    round_on: dt.date
    species: str
    stage: str
    protocol: str
    found: int
    area_m2: Decimal
    frames: int


Sites = dict[str, list[int]]  # counts of single frames, by site


def frames_to_plan(
    controls: Iterable[ControlFrames], around: Mapping[tuple[str, dt.date], list[str]], zero_k: float, memory: Memory
) -> list[Figure]:
    """Frames an arm at one site, and over sites, for every species, stage and protocol of the controls.

    around: cautions of each site and round. zero_k: the dispersion k assumed where fewer than three sites tell it.
    """
    cells: dict[tuple[str, str, str], list[ControlFrames]] = defaultdict(list)
    for row in sorted(controls):
        cells[row.species, row.stage, row.protocol].append(row)
    figures = []
    for (species, stage, protocol), rows in sorted(cells.items()):
        season, last = _season_to_plan_with(rows)
        for indicator, compute in (
            ("frames for a doubling", _at_one_site),
            ("frames for a doubling over sites", _over_sites),
        ):
            what = scope(species=species, stage=stage, protocol=protocol)
            inputs = [[str(r) for r in last], zero_k, season]
            estimate = memory.recall(indicator, what, inputs, partial(compute, last, zero_k, season))
            beside = [why for r in last for why in around.get((r.site, r.round_on), [])]
            figures.append(Figure(indicator, what, estimate.with_cautions(*beside)))
    return figures


def _season_to_plan_with(rows: Sequence[ControlFrames]) -> tuple[str, list[ControlFrames]]:
    """The last season in which three sites tell of spread between frames; where there is none, the last."""
    seasons: dict[str, list[ControlFrames]] = defaultdict(list)
    for r in rows:
        seasons[season_of(r.round_on, True)].append(r)
    last = {season: _last_rounds(told) for season, told in seasons.items()}
    full = [season for season, told in last.items() if _sites_with_two(told) >= FEWEST_SITES]
    chosen = max(full or last)  # their names begin with the year and month
    return chosen, last[chosen]


def _sites_with_two(rows: Sequence[ControlFrames]) -> int:
    frames: Counter[str] = Counter()
    for r in rows:
        frames[r.site] += r.frames
    return sum(n > 1 for n in frames.values())


def _last_rounds(rows: Sequence[ControlFrames]) -> list[ControlFrames]:
    """The last round of each site stands for its season."""
    last: dict[str, dt.date] = {}
    for r in rows:
        last[r.site] = max(r.round_on, last.get(r.site, r.round_on))
    return [r for r in rows if r.round_on == last[r.site]]


class _Controls(NamedTuple):
    """What the controls tell: mean a frame, spread, and how both are told to a reader."""

    sites: Sites
    mean: float
    inv_k: float
    note: str
    caution: str

    @property
    def frames(self) -> int:
        """How many frames there are."""
        return sum(map(len, self.sites.values()))


def _read(rows: Sequence[ControlFrames], zero_k: float, season: str) -> _Controls | Estimate:
    sizes = sorted({r.area_m2 for r in rows})
    n = sum(r.frames for r in rows)
    if sizes[-1] > sizes[0] * Decimal("1.01"):
        why = f"control frames of {season} are of different sizes, from {sizes[0].normalize():f} to {sizes[-1].normalize():f} m2"
        return not_estimable(why, unit=UNIT, n=n, n_of="frames")
    sites: Sites = defaultdict(list)
    for r in rows:
        sites[r.site] += [r.found] * r.frames
    mean = sum(r.found * r.frames for r in rows) / n
    if mean == 0:
        why = f"nothing was found in the {n} control frames of {season}, and no number of frames shows a doubling of nothing"
        return not_estimable(why, unit=UNIT, n=n, n_of="frames")
    pool = pooled_dispersion([(counts, [1.0] * len(counts)) for counts in sites.values()])
    inv_k = 1 / zero_k if pool is None else pool.inv_k
    told = "no more spread than by chance" if inv_k == 0 else f"k {1 / inv_k:.3g}"
    whence = f"pooled over {pool.sites} sites" if pool else "assumed"
    note = f"controls of {season}: {mean:.3g} a frame of {sizes[0].normalize():f} m2, {told} {whence}; {AIM}"
    caution = "" if pool else f"k {zero_k:g} is assumed: under {FEWEST_SITES} control sites with two frames tell of it"
    return _Controls(dict(sites), mean, inv_k, note, caution)


def _at_one_site(rows: Sequence[ControlFrames], zero_k: float, season: str) -> Estimate:
    told = _read(rows, zero_k, season)
    if isinstance(told, Estimate):
        return told
    needed = math.ceil(frames_for_ratio(told.mean, DOUBLE, told.inv_k))
    a_site = round(told.frames / len(told.sites))
    seen = power_of_frames(a_site, told.mean, DOUBLE, told.inv_k)
    note = f"{told.note}; {a_site} an arm, as now, see it in {seen:.0%}"
    if 2 <= needed <= MOST_FRAMES:
        simulated = power_by_frames(needed, told.mean, DOUBLE, told.inv_k)
        note += f"; in {RUNS} simulated comparisons {needed} an arm saw it in {simulated:.0%}"
    return _estimate(told, needed, note)


def _over_sites(rows: Sequence[ControlFrames], zero_k: float, season: str) -> Estimate:
    told = _read(rows, zero_k, season)
    if isinstance(told, Estimate):
        return told
    alike = intraclass([[float(c) for c in counts] for counts in told.sites.values()])
    if alike is None:
        why = f"how alike frames of one site are is not known from {len(told.sites)} control sites; {FEWEST_SITES} that differ are needed"
        return not_estimable(why, unit=UNIT, n=told.frames, n_of="frames", estimator=METHOD)
    a_site = told.frames / len(told.sites)
    effect = design_effect(a_site, alike)
    needed = math.ceil(frames_for_ratio(told.mean, DOUBLE, told.inv_k) * effect)
    note = f"{told.note}; times {effect:.2f}, since the {a_site:.3g} frames of a site are alike (intraclass correlation {alike:.2f})"
    return _estimate(told, needed, note)


def _estimate(told: _Controls, needed: int, note: str) -> Estimate:
    made = Estimate("estimated", UNIT, told.frames, "frames", METHOD, float(needed), note=note)
    return made.with_cautions(told.caution)
