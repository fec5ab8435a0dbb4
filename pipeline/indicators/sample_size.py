"""How many frames or units a comparison needs, by published formulas; two-sided, 5 %.

Numbers are fractions of a frame or unit, to be rounded up by whoever plans with them.
"""

import math

from scipy.special import ndtr, ndtri

Z = float(ndtri(0.975))
POWER = 0.8
Chances = tuple[float, float]


def frames_for_ratio(
    mean: float,
    ratio: float,
    inv_k: float,
    *,
    power: float = POWER,
    arms: float = 1,
    area: float = 1,
    approach: int = 2,
) -> float:
    """Control frames needed to see that another arm has `ratio` times the control's density.

    mean      plants expected in a control frame of area 1. area: size of a frame, in those units.
    inv_k     spread between frames: variance = mean + inv_k mean^2; 0 for Poisson.
    arms      frames of the other arm for one of the control.
    approach  variance under no difference: 1 at the control's mean, 2 as under the ratio, 3 at the common mean.
    Raises ValueError where nothing can be planned: a mean not above 0, a ratio of 1.
    Source: Zhu & Lakkis 2014, Stat. Med. 33:376.
    """
    if not (mean > 0 and ratio > 0 and ratio != 1):
        raise ValueError(f"no frames show {ratio} times a mean of {mean}")
    null, true = _variances(mean, ratio, inv_k, arms, area, approach)
    return float((Z * math.sqrt(null) + ndtri(power) * math.sqrt(true)) ** 2 / math.log(ratio) ** 2)


def power_of_frames(
    frames: float, mean: float, ratio: float, inv_k: float, *, arms: float = 1, area: float = 1, approach: int = 2
) -> float:
    """The chance, 0..1, that so many control frames show the ratio; arguments, errors and source as `frames_for_ratio`."""
    if not (mean > 0 and ratio > 0 and ratio != 1):
        raise ValueError(f"no frames show {ratio} times a mean of {mean}")
    null, true = _variances(mean, ratio, inv_k, arms, area, approach)
    return float(ndtr((math.sqrt(frames) * abs(math.log(ratio)) - Z * math.sqrt(null)) / math.sqrt(true)))


def _variances(mean: float, ratio: float, inv_k: float, arms: float, area: float, approach: int) -> tuple[float, float]:
    true = 1 / (area * mean) + inv_k + (1 / (area * mean * ratio) + inv_k) / arms
    common = mean if approach == 1 else mean * (1 + arms * ratio) / (1 + arms)
    return true if approach == 2 else (1 / (area * common) + inv_k) * (1 + 1 / arms), true


def units_for_share(share: float, half: float) -> float:
    """Units needed to know a share to +- half, by Wald's interval. Source: the usual normal approximation."""
    return Z**2 * share * (1 - share) / half**2


def wilson_half(share: float, units: float) -> float:
    """Half the width of the 95 % interval of a share seen in so many units. Source: Wilson 1927, J. Am. Stat. Assoc. 22:209."""
    return Z * math.sqrt(share * (1 - share) / units + Z**2 / (4 * units**2)) / (1 + Z**2 / units)


def wilson(share: float, units: float) -> Chances:
    """The 95 % interval of a share seen in so many units. Source: as `wilson_half`."""
    middle, half = (share + Z**2 / (2 * units)) / (1 + Z**2 / units), wilson_half(share, units)
    return max(0.0, middle - half), min(1.0, middle + half)


def units_for_shares(one: float, other: float, power: float = POWER) -> float:
    """Units in each of two groups needed to tell their shares apart: normal test, no continuity correction.

    Source: Fleiss 1981, Statistical Methods for Rates and Proportions, ch. 3 (from memory); as R's power.prop.test.
    """
    both = (one + other) / 2
    true = one * (1 - one) + other * (1 - other)
    return float((Z * math.sqrt(2 * both * (1 - both)) + ndtri(power) * math.sqrt(true)) ** 2 / (one - other) ** 2)


def units_for_arcsine(one: float, other: float, power: float = POWER) -> float:
    """As `units_for_shares`, by the arcsine of the shares' roots. Source: Cohen 1988, Statistical Power Analysis (from memory)."""
    apart = 2 * (math.asin(math.sqrt(one)) - math.asin(math.sqrt(other)))
    return float(2 * ((Z + ndtri(power)) / apart) ** 2)


def losses_for_hazards(ratio: float, power: float = POWER) -> float:
    """Losses needed in two equal groups together to tell a ratio of their hazards. Source: Schoenfeld 1981, Biometrika 68:316."""
    return float(4 * (Z + ndtri(power)) ** 2 / math.log(ratio) ** 2)


def design_effect(per_site: float, alike: float) -> float:
    """How many times as many frames or units are needed because those of one site are alike (Kish 1965, from memory).

    per_site: how many a site has. alike: their intraclass correlation.
    """
    return 1 + max(0.0, per_site - 1) * alike


def intraclass(sites: list[list[float]]) -> float | None:
    """How alike the values of one site are, 0..1, by one-way analysis of variance; below 0 counts as 0.

    None with fewer than three sites of two values or more, or where nothing differs.
    Source: the analysis-of-variance estimator, Donner 1986, Int. Stat. Rev. 54:67 (from memory).
    """
    groups = [sorted(g) for g in sites if len(g) >= 2]
    if len(groups) < 3:
        return None
    groups.sort()  # no name or order of sites can matter
    n, k = sum(map(len, groups)), len(groups)
    grand = math.fsum(x for g in groups for x in g) / n
    means = [math.fsum(g) / len(g) for g in groups]
    between = math.fsum(len(g) * (m - grand) ** 2 for g, m in zip(groups, means, strict=True)) / (k - 1)
    within = math.fsum((x - m) ** 2 for g, m in zip(groups, means, strict=True) for x in g) / (n - k)
    size = (n - math.fsum(len(g) ** 2 for g in groups) / n) / (k - 1)
    spread = between + (size - 1) * within
    return max(0.0, (between - within) / spread) if spread > 0 else None
