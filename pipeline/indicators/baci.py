"""Before-after-control-impact: how much more treated plots changed than control plots did, as a ratio and a difference.

Four sets of frames of one site: treated and control, before planting and after it. The ratio of ratios is the relative
change beyond that of the control; beside it stands the difference of the two differences, which stays finite where a
control is nearly empty. Frames are the sampling unit: one site has no replicate of itself, and neither interval says
anything about other sites (Stewart-Oaten & Bence 2001, Ecol. Monogr. 71:305; from memory).
"""

import math
from collections.abc import Mapping, Sequence
from typing import NamedTuple

from .contrast import corrected_total, log_density, log_variance, mover, too_few
from .density import FRAMES, NO_INTERVAL, UNIT, density_of, few_frames, log_limits, pearson_x2
from .estimate import Estimate, not_estimable
from .sample import Columns, Sample, checked_frames

TIMES = "times the change in control"
RATIO_METHOD = "log ratio of ratios, wider of quasi-Poisson and Welch, t"
DIFFERENCE_METHOD = "MOVER of four densities (Zou and Donner)"
ONE_SITE = "one site: it says nothing of others"
FIXED = "no interval: fixed frames were counted again and are no new sample; only several sites give one"


class Arms(NamedTuple):
    """The four arms, each with counts and areas in m2 of its frames, and how many such where some are alike."""

    treated_after: Columns
    treated_before: Columns
    control_after: Columns
    control_before: Columns


class Spread(NamedTuple):
    """The log ratio of ratios and the two candidate variances of it, each with its degrees of freedom."""

    theta: float
    phi: float
    quasi: float
    quasi_df: int
    welch: float
    welch_df: float


def before_after_ratio(arms: Arms, *, fixed: bool = False) -> Estimate:
    """(treated after / treated before) / (control after / control before), "times the change in control".

    On the log scale with the wider of two variances and the smaller of their degrees of freedom: phi times the sum of
    the four reciprocal totals on N - 4, phi = Pearson's X2 of all arms over N - 4 and at least 1; and the sum of the
    arms' own variances with Satterthwaite's. An empty arm has a total of 0.5, and a caution says so. fixed: frames
    are the same before and after, so they are not independent, and no interval is given.

    Not estimable when an arm has fewer than two frames, or when nothing was found in either arm after planting.
    Raises as `density` does. Sources: McCullagh & Nelder 1989; Welch 1947, Biometrika 34:28; Satterthwaite 1946.
    """
    frames = _checked(arms)
    n = sum(map(len, frames.values()))
    empty = [name for name, arm in frames.items() if not arm.total]
    nothing = "nothing was found in treated or control frames after planting"
    after_empty = {"treated after", "control after"} <= set(empty)
    if refused := too_few(frames) or (nothing if after_empty else ""):
        return not_estimable(refused, unit=TIMES, n=n, n_of=FRAMES, estimator=RATIO_METHOD)
    spread = _spread(list(frames.values()))
    value, se = math.exp(spread.theta), math.sqrt(max(spread.quasi, spread.welch))
    limits = None if fixed else log_limits(value, se, min(spread.quasi_df, spread.welch_df))
    low, high = limits or (None, None)
    return Estimate(
        "estimated", TIMES, n, FRAMES, RATIO_METHOD, value=value, low=low, high=high, note=_note(frames, low, fixed)
    ).with_cautions(
        ONE_SITE,
        *(few_frames(len(arm), f"{name} ") for name, arm in frames.items()),
        *(f"nothing was found in the {name} frames: half a recruit was added to their total" for name in empty),
    )


def log_ratio_spread(arms: Arms) -> Spread:
    """The log ratio of ratios with both variances; every arm has two or more frames."""
    return _spread(list(_checked(arms).values()))


def _spread(frames: Sequence[Sample]) -> Spread:
    n = sum(map(len, frames))
    phi = max(1.0, math.fsum(map(pearson_x2, frames)) / (n - 4))
    own = [log_variance(arm) for arm in frames]
    welch = math.fsum(own)
    shares = math.fsum((v / welch) ** 2 / (len(arm) - 1) for v, arm in zip(own, frames, strict=True))
    quasi = phi * math.fsum(1 / corrected_total(arm) for arm in frames)
    return Spread(_log_ratio(frames), phi, quasi, n - 4, welch, 1 / shares)


def before_after_difference(arms: Arms, *, zero_k: float = 0.5, fixed: bool = False) -> Estimate:
    """(treated after - treated before) - (control after - control before), recruits per m2.

    Each arm keeps the interval that `density` gives it; their distances to the limits are squared and added. fixed,
    refusals and what is raised as for the ratio. Source: Zou & Donner 2008, Stat. Med. 27:1693 (from memory).
    """
    frames = _checked(arms)
    n = sum(map(len, frames.values()))
    if refused := too_few(frames):
        return not_estimable(refused, unit=UNIT, n=n, n_of=FRAMES, estimator=DIFFERENCE_METHOD)
    told = [density_of(arm, zero_k=zero_k) for arm in frames.values()]
    both = _less(_less(told[0], told[1]), _less(told[2], told[3]))
    low, high = (None, None) if fixed else (both.low, both.high)
    return Estimate(
        "estimated", UNIT, n, FRAMES, DIFFERENCE_METHOD, value=both.value, low=low, high=high,
        note=_note(frames, low, fixed),
    ).with_cautions(ONE_SITE, *(few_frames(len(arm), f"{name} ") for name, arm in frames.items()))  # fmt: skip


def change(arms: Arms) -> float:
    """The difference of the two differences alone, recruits per m2; every arm has a frame."""
    after, before, control_after, control_before = (f.total / f.area_m2 for f in _checked(arms).values())
    return (after - before) - (control_after - control_before)


def relative_change(arms: Arms) -> float:
    """The ratio of ratios alone, no unit; every arm has a frame, and half a recruit where it has none."""
    return math.exp(_log_ratio(list(_checked(arms).values())))


def _log_ratio(frames: Sequence[Sample]) -> float:
    after, before, control_after, control_before = map(log_density, frames)
    return (after - before) - (control_after - control_before)


def _less(one: Estimate, other: Estimate) -> Estimate:
    low, high = mover(one, other) or (None, None)
    value = (one.value or 0.0) - (other.value or 0.0)
    return Estimate("estimated", UNIT, 0, FRAMES, DIFFERENCE_METHOD, value=value, low=low, high=high)


def _checked(arms: Arms) -> dict[str, Sample]:
    return {name.replace("_", " "): checked_frames(*arm) for name, arm in zip(Arms._fields, arms, strict=True)}


def _note(frames: Mapping[str, Sample], low: float | None, fixed: bool) -> str:
    after, before, control_after, control_before = map(len, frames.values())
    sizes = f"{after} treated and {control_after} control frames after planting, {before} and {control_before} before"
    return f"{sizes}; {FIXED}" if fixed else sizes if low is not None else f"{sizes}; {NO_INTERVAL}"
