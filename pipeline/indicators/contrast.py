"""Treated against control or reference: the ratio and the difference of recruit densities of two sets of frames.

Both take the counts and areas (m2) of the treated frames, then of the others ("control" in the names of arguments),
of one survey each; `times` tells how many frames of the one and of the other have each count and area (one where it is
not told). A ratio over frames that are nearly empty runs away, so the difference is to be shown beside it. Frames are
the sampling unit here: neither interval says anything about other sites.
"""

import math
from collections.abc import Mapping, Sequence
from typing import NamedTuple

from .density import (
    FRAMES,
    NO_INTERVAL,
    UNIT,
    PooledDispersion,
    density_of,
    few_frames,
    log_limits,
    pearson_x2,
)
from .estimate import Estimate, not_estimable
from .sample import Sample, Times, checked_frames

RATIO_METHOD = "log ratio, wider of quasi-Poisson and Welch, t"
DIFFERENCE_METHOD = "MOVER (Zou and Donner)"


class Spread(NamedTuple):
    """The two candidate variances of the log ratio, each with its degrees of freedom; no units."""

    phi: float
    quasi: float
    quasi_df: int
    welch: float
    welch_df: float


def ratio(
    treated_counts: Sequence[int],
    treated_areas_m2: Sequence[float],
    control_counts: Sequence[int],
    control_areas_m2: Sequence[float],
    other: str = "control",
    times: Times = (None, None),
) -> Estimate:
    """Density in the treated frames over density in the others, "times control" or whatever they are called.

    On the log scale, with the larger of two variances and the smaller of their degrees of freedom: the one
    that shares a dispersion (right when counts are few) and the one that does not (right when the arms
    differ). Where one arm is empty its total is taken as 0.5, and a caution says so. Not estimable when both
    are empty, or when an arm has fewer than two frames and so no spread of its own.

    Raises as `density` does. Sources: quasi-Poisson, McCullagh & Nelder 1989; unequal variances, Welch 1947,
    Biometrika 34:28; degrees of freedom, Satterthwaite 1946, Biometrics Bulletin 2:110 (all from memory).
    """
    treated = checked_frames(treated_counts, treated_areas_m2, times[0])
    control = checked_frames(control_counts, control_areas_m2, times[1])
    n = len(treated) + len(control)
    unit = f"times {other}"
    empty = [name for name, arm in (("treated", treated), (other, control)) if not arm.total]
    if refused := too_few({"treated": treated, other: control}) or (
        "nothing was found in either arm" if len(empty) == 2 else ""
    ):
        return not_estimable(refused, unit=unit, n=n, n_of=FRAMES, estimator=RATIO_METHOD)
    spread = log_ratio_spread(treated, control)
    value = corrected_total(treated) / treated.area_m2 / (corrected_total(control) / control.area_m2)
    se = math.sqrt(max(spread.quasi, spread.welch))
    low, high = log_limits(value, se, min(spread.quasi_df, spread.welch_df)) or (None, None)
    note = _sizes(treated, control, other) if low is not None else f"{_sizes(treated, control, other)}; {NO_INTERVAL}"
    return Estimate(
        "estimated", unit, n, FRAMES, RATIO_METHOD, value=value, low=low, high=high, note=note
    ).with_cautions(
        few_frames(len(treated), "treated "),
        few_frames(len(control), f"{other} "),
        *(f"nothing was found in the {arm} frames: half a recruit was added to their total" for arm in empty),
    )


def difference(
    treated_counts: Sequence[int],
    treated_areas_m2: Sequence[float],
    control_counts: Sequence[int],
    control_areas_m2: Sequence[float],
    *,
    treated_pooled: PooledDispersion | None = None,
    control_pooled: PooledDispersion | None = None,
    zero_k: float = 0.5,
    other: str = "control",
    times: Times = (None, None),
) -> Estimate:
    """Density in the treated frames less density in the others, recruits per m2.

    Each arm keeps the interval that `density` gives it (the pools and zero_k are handed on to it), so an
    empty arm still counts with its upper bound. Not estimable when an arm has fewer than two frames.

    Raises as `density` does. Source: Zou & Donner 2008, Statistics in Medicine 27:1693 (from memory).
    """
    treated = checked_frames(treated_counts, treated_areas_m2, times[0])
    control = checked_frames(control_counts, control_areas_m2, times[1])
    n = len(treated) + len(control)
    if refused := too_few({"treated": treated, other: control}):
        return not_estimable(refused, unit=UNIT, n=n, n_of=FRAMES, estimator=DIFFERENCE_METHOD)
    one = density_of(treated, pooled=treated_pooled, zero_k=zero_k)
    two = density_of(control, pooled=control_pooled, zero_k=zero_k)
    value = treated.total / treated.area_m2 - control.total / control.area_m2
    low, high = mover(one, two) or (None, None)
    notes = [_sizes(treated, control, other)]
    notes += [f"{name}: {arm.note}" for name, arm in (("treated", one), (other, two)) if arm.note]
    return Estimate(
        "estimated",
        UNIT,
        n,
        FRAMES,
        DIFFERENCE_METHOD,
        value=value,
        low=low,
        high=high,
        note="; ".join(notes),
    ).with_cautions(
        "" if treated_pooled else few_frames(len(treated), "treated "),
        "" if control_pooled else few_frames(len(control), f"{other} "),
    )


def mover(one: Estimate, other: Estimate) -> tuple[float, float] | None:
    """95 % limits of one less other, from those of two independent estimates; None when a limit is missing.

    Towards each side go the distances to the limits that pull that way, so lopsided intervals stay lopsided.
    Source: Zou & Donner 2008, Statistics in Medicine 27:1693; for proportions Newcombe 1998, ibid. 17:873.
    """
    if one.value is None or one.low is None or one.high is None:
        return None
    if other.value is None or other.low is None or other.high is None:
        return None
    value = one.value - other.value
    down = math.hypot(one.value - one.low, other.high - other.value)
    up = math.hypot(one.high - one.value, other.value - other.low)
    return value - down, value + up


def log_ratio_spread(treated: Sample, control: Sample) -> Spread:
    """Quasi-Poisson and Welch variance of the log ratio; each arm has two or more frames.

    quasi  phi (1/Y1 + 1/Y0), phi = Pearson's X2 of both arms over n1 + n0 - 2, at least 1.
    welch  v1 + v0; for equal areas v = max(s2, m) / (n m^2) on n - 1 degrees of freedom. For unequal areas s2
           becomes the spread about density times area, sum (y - r a)^2 / (n - 1), as for any ratio of totals
           (Cochran 1977, Sampling Techniques, chapter 6; from memory).

    An empty arm has a total of 0.5 and no spread beyond Poisson.
    """
    quasi_df = len(treated) + len(control) - 2
    phi = max(1.0, math.fsum([pearson_x2(treated), pearson_x2(control)]) / quasi_df)
    v1, v0 = log_variance(treated), log_variance(control)
    shares = (v1 / (v1 + v0)) ** 2 / (len(treated) - 1) + (v0 / (v1 + v0)) ** 2 / (len(control) - 1)
    quasi = phi * (1 / corrected_total(treated) + 1 / corrected_total(control))
    return Spread(phi, quasi, quasi_df, v1 + v0, 1 / shares)


def log_variance(frames: Sample) -> float:
    """Variance of the log of a density from its frames' own spread, never below Poisson's."""
    n, rate = len(frames), frames.total / frames.area_m2
    squares = frames.sum_of((count - rate * a) ** 2 for count, a in frames.found)
    corrected = corrected_total(frames)
    return max(squares * n / (n - 1) / corrected**2, 1 / corrected)


def log_density(frames: Sample) -> float:
    """Log of the density per m2, a total of nothing taken as half a recruit."""
    return math.log(corrected_total(frames) / frames.area_m2)


def too_few(arms: Mapping[str, Sample]) -> str:
    """Why these sets of frames cannot be compared, or ""."""
    short = [f"{len(arm) or 'no'} {name} frame" + "s" * (not arm) for name, arm in arms.items() if len(arm) < 2]
    return f"only {' and '.join(short)}: each arm needs at least two" if short else ""


def corrected_total(frames: Sample) -> float:
    """Recruits in all frames; half a one where there were none."""
    return frames.total or 0.5


def _sizes(treated: Sample, control: Sample, other: str) -> str:
    return f"{len(treated)} treated and {len(control)} {other} frames"
