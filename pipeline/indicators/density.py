"""Recruit density: recruits per m2 from the frames of one site, plot kind, species, stage and survey.

The first line that fits decides; every interval is 95 %, two-sided:

    no frame                    not estimable
    one frame, no pooled k      exact Poisson limits (Garwood 1936), with a caution
    nothing in any frame        zero, with an upper bound under a stated negative-binomial k
    a pooled k is given         negative-binomial variance with that k, on the log scale, t
    otherwise                   quasi-Poisson variance from the frames' own spread, on the log scale, t

Frames may differ in area. Sums are exactly rounded, so neither the order of the frames nor telling like ones together
(`sample.py`) can matter.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import ROUND_CEILING, Context

from scipy.special import gammainccinv, gammaincinv, stdtrit

from .estimate import Estimate, not_estimable
from .sample import Columns, Sample, checked_frames

UNIT, FRAMES = "per m2", "frames"
FEW_FRAMES = 3  # up to here honest intervals are too wide to use: at n=3 and k=0.5 half exceed 40 recruits
UNDECIDED = "too few to decide anything by"
SMALLEST_INV_K = 1e-12  # below it the negative binomial and the Poisson agree to the last digit
BEYOND_USE = 1e12  # a limit so many times the estimate (or so many recruits a frame) tells a reader nothing


@dataclass(frozen=True)
class PooledDispersion:
    """Spread between frames shared by comparable sites: variance = mean + inv_k * mean^2.

    inv_k  1/k per frame, no unit; 0 means no more spread than Poisson.
    df     degrees of freedom behind it: frames less one, summed over the sites.
    sites  how many sites gave it; under three it is not a pool, and ValueError is raised.
    """

    inv_k: float
    df: int
    sites: int

    def __post_init__(self) -> None:
        if not (0 <= self.inv_k < math.inf and self.df >= self.sites >= 3):
            raise ValueError(f"not a usable pool: 1/k {self.inv_k}, df {self.df}, {self.sites} sites")


def density(
    counts: Sequence[int],
    areas_m2: Sequence[float],
    times: Sequence[int] | None = None,
    *,
    pooled: PooledDispersion | None = None,
    zero_k: float = 0.5,
) -> Estimate:
    """Recruits per m2: total count over total area, with the interval that the frames can bear.

    counts    recruits in each counted frame; a counted zero belongs here, an uncounted frame does not.
    areas_m2  searched area of each frame in m2, as many as counts.
    times     how many frames have each count and area, as many as counts; one where it is not told.
    pooled    from `pooled_dispersion` of the same species, stage, frame size and season; to be given only for
              five frames or fewer. Its k is per frame: it holds for frames of the pool's size.
    zero_k    the k assumed when nothing was found and no pool is given; math.inf means Poisson.

    Raises ValueError for unequal lengths, a negative count, an area that is no frame's, a frame found less than once,
    or a zero_k not above zero; TypeError for a count that is not whole.
    Sources: Garwood 1936, Biometrika 28:437; quasi-Poisson: McCullagh & Nelder 1989, Generalized Linear
    Models (bibliographic details of both from memory).
    """
    return density_of(checked_frames(counts, areas_m2, times), pooled=pooled, zero_k=zero_k)


def density_of(frames: Sample, *, pooled: PooledDispersion | None = None, zero_k: float = 0.5) -> Estimate:
    """As `density`, of frames that are checked already."""
    if not zero_k > 0:
        raise ValueError(f"zero_k must be above zero, not {zero_k}")
    n = len(frames)
    if n == 0:
        return not_estimable("no frame was counted", unit=UNIT, n=0, n_of=FRAMES)
    total, area = frames.total, frames.area_m2
    few = few_frames(n) if pooled is None else ""
    if n == 1 and pooled is None:
        return _one_frame(total, area, zero_k).with_cautions(few, "one frame: Poisson spread assumed")
    if total == 0:
        return _none_found(frames, pooled, zero_k).with_cautions(few)
    if pooled is not None:
        method, note = "negative-binomial log-t, pooled k", f"spread between frames from {_pooled_k(pooled)}"
        crowding = frames.sum_of(a * a for _, a in frames.found) / area**2  # 1/n when the areas are equal
        df, variance = pooled.df, 1 / total + pooled.inv_k * crowding
    else:
        method, note = "quasi-Poisson log-t", ""
        # Counts more even than Poisson are luck or a habit of the counter, so they never narrow the interval.
        df, variance = n - 1, max(1.0, pearson_x2(frames) / (n - 1)) / total
    limits = log_limits(total / area, math.sqrt(variance), df)
    if limits is None:
        note = "; ".join(filter(None, [note, NO_INTERVAL]))
    low, high = limits or (None, None)
    return _estimate(n, method, total / area, low=low, high=high, note=note).with_cautions(few)


def pooled_dispersion(groups: Sequence[Columns]) -> PooledDispersion | None:
    """One 1/k for comparable sites: sum(s2 - m) / sum(m^2 - s2/n) over the sites, never below 0.

    groups  (counts, areas in m2) or (counts, areas in m2, how many such frames) of each site: same species, stage,
            season, and one frame size for all.

    None when fewer than three sites have two frames or more, or when no site has recruits in two frames, for
    then nothing tells clumping from chance. Raises ValueError for unequal areas, and as `density` does.
    Source: the moment estimator of a common k, Bliss & Owen 1958, Biometrika 45:37 (from memory).
    """
    checked = [checked_frames(*group) for group in groups]
    if len({area for frames in checked for _, area in frames.found}) > 1:
        raise ValueError("frames of different areas cannot share one k")
    usable = [frames for frames in checked if len(frames) >= 2]
    if len(usable) < 3:
        return None
    excess, squares = [], []
    for frames in usable:  # whole numbers up to the one division, so nothing is lost in subtracting
        n, y = len(frames), frames.total
        y2 = sum(count * count * alike for (count, _), alike in zip(frames.found, frames.times, strict=True))
        excess.append((n * y2 - y * y - (n - 1) * y) / (n * (n - 1)))  # s2 - m
        squares.append((y * y - y2) / (n * (n - 1)))  # m^2 - s2/n
    if not any(squares):
        return None
    inv_k = max(0.0, math.fsum(excess) / math.fsum(squares))
    return PooledDispersion(inv_k, df=sum(len(frames) - 1 for frames in usable), sites=len(usable))


def garwood(y: int, exposure: float) -> tuple[float, float]:
    """Exact two-sided 95 % limits of a Poisson rate: y events in `exposure` (m2 here), per unit of exposure.

    Raises ValueError for a negative y or an exposure not above zero. Source: Garwood 1936, Biometrika 28:437.
    """
    if not (y >= 0 and 0 < exposure < math.inf):
        raise ValueError(f"no Poisson rate: {y} events in an exposure of {exposure}")
    low = float(gammaincinv(y, 0.025)) if y else 0.0  # half a chi-square quantile with 2y df
    return low / exposure, float(gammainccinv(y + 1, 0.025)) / exposure


def zero_bound(areas_m2: Sequence[float], inv_k: float, times: Sequence[int] | None = None) -> float | None:
    """The density (per m2) at which all these frames would still be empty in 2.5 % of surveys; None: no use.

    times  how many frames have each area; one where it is not told.

    Each frame is empty with probability (1 + density * area / k)^-k, one k for every frame. For n equal areas
    that gives k (0.025^(-1/(nk)) - 1) per frame, and ln(40)/n without clumping. For unequal areas the product
    is solved by halving; the bound is then never below the one of as many equal frames with the same total.
    """
    frames = checked_frames([0] * len(areas_m2), areas_m2, times)
    n, mean = len(frames), frames.area_m2 / len(frames)
    goal = math.log(40)  # 1 / 0.025
    if inv_k < SMALLEST_INV_K:
        return goal / n / mean
    if goal * inv_k / n > 700:  # the largest power of e that a float holds is near 709
        return None
    shares = [area / mean for _, area in frames.found]
    least, most = min(shares), max(shares)
    low, high = (math.expm1(goal * inv_k / n) / inv_k / share for share in (1.0, least))
    while least < most and low < (middle := (low + high) / 2) < high:
        empty = frames.sum_of(math.log1p(middle * share * inv_k) for share in shares)
        low, high = (middle, high) if empty < goal * inv_k else (low, middle)
    return high / mean if high <= BEYOND_USE else None


# --- shared with contrast.py

NO_INTERVAL = "no interval: its upper limit is too far out to mean anything"


def few_frames(n: int, of: str = "") -> str:
    """The caution owed when n frames of one arm are too few for a usable interval, or ""."""
    return f"{n} {of}frame{'s' * (n > 1)}: {UNDECIDED}" if n <= FEW_FRAMES else ""


def pearson_x2(frames: Sample) -> float:
    """Pearson's X2 of the counts about one common density r: sum (y - r a)^2 / (r a); 0 when all are zero."""
    rate = frames.total / frames.area_m2
    return frames.sum_of((c - rate * a) ** 2 / (rate * a) for c, a in frames.found) if rate else 0.0


def log_limits(value: float, se: float, df: float) -> tuple[float, float] | None:
    """value / e^(t se) and value * e^(t se), t the 97.5 % point at df; None when the upper is beyond use."""
    half = float(stdtrit(df, 0.975)) * se
    return (value * math.exp(-half), value * math.exp(half)) if half < math.log(BEYOND_USE) else None


# --- the two cases without a spread of their own


def _one_frame(count: int, area: float, zero_k: float) -> Estimate:
    low, high = garwood(count, area)
    note = ""
    if count == 0:  # the Poisson bound is the narrow one, so the clumped one is said beside it
        clumped = _fewer_than(zero_bound([area], 1 / zero_k), f"k={zero_k:g}")
        note = f"none found; {_fewer_than(high, 'Poisson spread')}, {clumped}"
    return _estimate(1, "exact Poisson (Garwood)", count / area, low=low, high=high, note=note)


def _none_found(frames: Sample, pooled: PooledDispersion | None, zero_k: float) -> Estimate:
    inv_k, said = (1 / zero_k, f"k={zero_k:g}") if pooled is None else (pooled.inv_k, _pooled_k(pooled))
    high = zero_bound([area for _, area in frames.found], inv_k, frames.times)
    note = f"none found; {_fewer_than(high, said)}"
    low = None if high is None else 0.0
    return _estimate(len(frames), "negative-binomial zero rule", 0.0, low=low, high=high, note=note)


def _pooled_k(pooled: PooledDispersion) -> str:
    k = f"k={1 / pooled.inv_k:.3g}" if pooled.inv_k >= SMALLEST_INV_K else "Poisson spread"
    return f"{k} pooled over {pooled.sites} sites"


def _fewer_than(bound: float | None, under: str) -> str:
    """The bound in words, rounded up, for a bound rounded down would claim too much."""
    if bound is None:
        return f"no upper bound of use under {under}"
    rounded = Context(prec=4, rounding=ROUND_CEILING).create_decimal(repr(bound))
    return f"fewer than {rounded.normalize():f} per m2 with 97.5 % confidence under {under}"


def _estimate(n: int, method: str, value: float, *, low: float | None, high: float | None, note: str) -> Estimate:
    return Estimate("estimated", UNIT, n, FRAMES, method, value=value, low=low, high=high, note=note)
