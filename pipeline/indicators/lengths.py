"""How long plants are: the mean and the median of those measured, the frame as sampling unit."""

import math
from collections.abc import Sequence

from scipy.special import stdtrit

from .density import log_limits
from .estimate import Estimate, not_estimable
from .totals import careful, ratio_and_error

UNIT, PLANTS = "cm", "plants"
MEAN, MEDIAN = "ratio of totals, jackknife over frames, log, t", "median, Woodruff's limits, frames as clusters, t"
LEAST_PLANTS = 10  # below which a tenth is no plant


def mean_length(frames: Sequence[Sequence[float]]) -> Estimate:
    """Mean length in cm of the plants measured in each frame; n counts plants.

    Limits are value * e^(+-t se / value), se and the degrees of freedom those of `totals.careful`. One or two frames with
    plants: no interval, since one degree of freedom says nothing. No plant: not estimable. Raises ValueError for a length not above 0. Sources: those of `careful`.
    """
    told = _checked(frames)
    n = sum(map(len, told))
    if not n:
        return not_estimable("no plant was measured", unit=UNIT, n=0, n_of=PLANTS)
    clusters = [(float(len(frame)), math.fsum(frame)) for frame in told]
    value, se, df = careful(clusters) if len(told) > 2 else (math.fsum(c[1] for c in clusters) / n, 0.0, 0.0)
    low, high = (log_limits(value, se / value, df) if se else None) or (None, None)
    return _estimate(MEAN, n, len(told), value, low, high)


def median_length(frames: Sequence[Sequence[float]]) -> Estimate:
    """Median length in cm of the plants measured in each frame; the note holds the tenths at either end.

    Limits: the quantiles at p +- t se, p the share of plants up to the median and se its standard error linearised over
    frames, never below that of independent plants. None where p +- t se leaves 0 to 1: too few frames. No plant: not
    estimable. Raises as `mean_length`. Source: Woodruff 1952, J. Am. Stat. Assoc. 47:635 (from memory).
    """
    told = _checked(frames)
    every = sorted(length for frame in told for length in frame)
    n = len(every)
    if not n:
        return not_estimable("no plant was measured", unit=UNIT, n=0, n_of=PLANTS)
    value = _quantile(every, 0.5)
    low, high = _woodruff(told, every, value) or (None, None)
    tenths = f"one plant in ten up to {_quantile(every, 0.1):g} cm, one in ten over {_quantile(every, 0.9):g} cm"
    e = _estimate(MEDIAN, n, len(told), value, low, high, tenths if n >= LEAST_PLANTS else "")
    return e


def _woodruff(told: Sequence[Sequence[float]], every: Sequence[float], value: float) -> tuple[float, float] | None:
    if len(told) < 2:
        return None
    clusters = [(float(len(frame)), float(sum(x <= value for x in frame))) for frame in told]
    se = max(ratio_and_error(clusters)[1], 0.5 / math.sqrt(len(every)))
    half = float(stdtrit(len(told) - 1, 0.975)) * se
    return None if half >= 0.5 else (_quantile(every, 0.5 - half), _quantile(every, 0.5 + half))


def _quantile(every: Sequence[float], p: float) -> float:
    """The quantile of sorted lengths, the mean of two where it falls between them (the inverse of the steps)."""
    at = p * len(every)
    whole = math.floor(at)
    if math.isclose(at, round(at), abs_tol=1e-9) and 0 < round(at) < len(every):
        return (every[round(at) - 1] + every[round(at)]) / 2
    return every[min(whole, len(every) - 1)]


def _checked(frames: Sequence[Sequence[float]]) -> list[list[float]]:
    told = sorted(sorted(frame) for frame in frames if frame)
    if any(not 0 < x < math.inf for frame in told for x in frame):
        raise ValueError("a length must be above 0")
    return told


def _estimate(
    how: str, n: int, frames: int, value: float, low: float | None, high: float | None, more: str = ""
) -> Estimate:
    why = "" if low is not None else "no interval: too few frames with measured plants to show how frames differ"
    note = "; ".join(filter(None, [f"plants of {frames} frames" if frames > 1 else "plants of one frame", more, why]))
    return Estimate("estimated", UNIT, n, PLANTS, how, value, low, high, note=note)
