"""Cost per hectare over sites, and the sharing out of a cost that several sites caused together."""

import math
from collections.abc import Mapping, Sequence
from fractions import Fraction

from scipy.special import stdtrit

from .estimate import Estimate, not_estimable

SITES, METHOD = "sites", "ratio of totals, linearised t"
MOST_COST = 1e15  # of either sign; beyond it, or outside the areas below, it is a slip of units
LEAST_HA, MOST_HA = 1e-12, 1e9  # a hundredth of a mm2; more than all seas
NO_SPREAD = 1e-6  # of the ratio; a narrower interval is an artefact of how the costs were shared out
CENSUS = "of the costs told, exact for these sites; the interval speaks of other sites like these"


def ratio_of_totals(
    costs: Sequence[float], areas: Sequence[float], *, unit: str = "per ha", over: str = "areas"
) -> Estimate:
    """Total cost over total area, with a linearised t interval over the sites.

    costs  what each site cost, in the money that `unit` names; refunds may make one negative.
    areas  area of each site in hectares, as many as costs, none negative; a site that cost money on no area
           belongs here with 0. Which area it is (treated, surveyed, rule-meeting) the caller must name.
    unit   such as "EUR per ha".
    over   what stands in place of areas: "areas", or "units" put down.

    se = sqrt(sum e^2 / (n - 1) / n) / mean area, e = cost - ratio * area. Fieller's limits stand beside it in
    the note; a caution says when they are unbounded. No interval for one site, or for costs in proportion to
    the areas. No site, or no area at all: not estimable. A lower limit below zero is cut off at zero when no
    cost is negative, and a caution says so.
    The mean of each site's own cost per hectare is another quantity and is never given.

    Raises ValueError for unequal lengths and for amounts or areas outside all reason (NaN among them).
    Source: Cochran 1977, Sampling Techniques, chapter 6 (from memory).
    """
    sites = _checked(costs, areas)
    n = len(sites)
    if n == 0:
        return not_estimable("no site has a cost and an area", unit=unit, n=0, n_of=SITES)
    ratio, mean, residuals = _fit(sites)
    if ratio is None:
        return not_estimable("the total area is zero", unit=unit, n=n, n_of=SITES, estimator=METHOD)
    half = _t(n - 1) * math.sqrt(_mean_product(residuals, residuals)) / mean if n > 1 else 0.0
    if half <= NO_SPREAD * abs(ratio):
        why = "one site" if n == 1 else f"costs in proportion to the {over}, as if shared out by them"
        note = f"{why}: no interval, since nothing shows how sites differ"
        return Estimate("estimated", unit, n, SITES, "ratio of totals", value=ratio, note=note)
    low, high = ratio - half, ratio + half
    cautions = []
    if low < 0 <= sites[0][0]:  # sorted, so the first cost is the least
        low = 0.0
        cautions.append("the sites differ so much that the lower limit was cut off at zero")
    checked = fieller(costs, areas)
    if checked is None:
        said = "Fieller's check is unbounded"
        cautions.append(f"{said}: these {over} cannot say how dear one more may be")
    else:
        said = f"Fieller's check {checked[0]:.2f} to {checked[1]:.2f}"
    estimate = Estimate("estimated", unit, n, SITES, METHOD, ratio, low, high, note=f"{CENSUS}; {said}")
    return estimate.with_cautions(*cautions)


def fieller(costs: Sequence[float], areas: Sequence[float]) -> tuple[float, float] | None:
    """Fieller's 95 % limits of total cost over total area, as for `ratio_of_totals`; None when unbounded.

    Unbounded means that the mean area is itself not surely above zero at this n, so no finite pair of limits
    holds. Raises ValueError for fewer than two sites, and as `ratio_of_totals` does.
    Source: Fieller 1954, Journal of the Royal Statistical Society B 16:175 (from memory).
    """
    sites = _checked(costs, areas)
    if len(sites) < 2:
        raise ValueError("Fieller's limits need at least two sites")
    ratio, mean, residuals = _fit(sites)
    if ratio is None:
        return None
    t2 = _t(len(sites) - 1) ** 2
    offsets = [area - mean for _, area in sites]
    lead = mean**2 - t2 * _mean_product(offsets, offsets)
    if lead <= 0:
        return None
    # The textbook quadratic, shifted to the distance d from the ratio: lead d^2 + 2 middle d - apart = 0. Its
    # two roots lie on either side of zero; the nearer comes from their product, so that nothing cancels.
    middle = t2 * _mean_product(offsets, residuals)
    apart = t2 * _mean_product(residuals, residuals)
    outer = abs(middle) + math.sqrt(middle**2 + lead * apart)
    far, near = outer / lead, apart / outer if outer else 0.0
    return (ratio - far, ratio + near) if middle > 0 else (ratio - near, ratio + far)


def share_out(total_cents: int, weights: Mapping[str, int | Fraction]) -> dict[str, int] | None:
    """Share a common cost by weight into whole cents that add up to it exactly; by largest remainder.

    total_cents  the cost in minor units; a refund is negative and is shared like the charge it takes back.
    weights      for each site (or other key) its weight: hours, units, area; whole or an exact fraction.

    Cents left over go to the largest remainders, ties to the key that sorts first. None when the weights are
    all zero or there are none: the cost then stays unallocated, and is to be shown so. The result is in order
    of its keys. Raises TypeError for an inexact weight or total, ValueError for a negative weight.
    Source: the largest-remainder method of apportionment (Hamilton).
    """
    for key, weight in weights.items():
        if not isinstance(weight, int | Fraction):
            raise TypeError(f"the weight of {key} must be whole or a fraction, not {weight!r}")
        if weight < 0:
            raise ValueError(f"the weight of {key} is negative: {weight}")
    if not isinstance(total_cents, int):
        raise TypeError(f"a cost is shared in whole cents, not {total_cents!r}")
    whole = sum(weights.values(), Fraction(0))
    if whole == 0:
        return None
    exact = {key: abs(total_cents) * weights[key] / whole for key in sorted(weights)}
    parts = {key: math.floor(part) for key, part in exact.items()}
    left_over = abs(total_cents) - sum(parts.values())
    for key in sorted(exact, key=lambda k: (parts[k] - exact[k], k))[:left_over]:
        parts[key] += 1
    return parts if total_cents >= 0 else {key: -part for key, part in parts.items()}


def _checked(costs: Sequence[float], areas: Sequence[float]) -> list[tuple[float, float]]:
    """The sites as sorted (cost, area in ha)."""
    sites = [(float(cost), float(area)) for cost, area in zip(costs, areas, strict=True)]
    for cost, area in sites:
        if not abs(cost) <= MOST_COST:
            raise ValueError(f"not a cost: {cost}")
        if not (area == 0 or LEAST_HA <= area <= MOST_HA):
            raise ValueError(f"not an area in hectares: {area}")
    return sorted(sites)


def _fit(sites: list[tuple[float, float]]) -> tuple[float | None, float, list[float]]:
    """The ratio of totals (None without area), the mean area, and each site's cost less ratio times area."""
    area = math.fsum(a for _, a in sites)
    if area == 0:
        return None, 0.0, []
    ratio = math.fsum(c for c, _ in sites) / area
    return ratio, area / len(sites), [cost - ratio * a for cost, a in sites]


def _mean_product(one: list[float], other: list[float]) -> float:
    """(Co)variance of two means, from deviations that each add up to zero: sum of products / (n - 1) / n."""
    n = len(one)
    return math.fsum(sorted(x * y for x, y in zip(one, other, strict=True))) / (n - 1) / n


def _t(df: int) -> float:
    return float(stdtrit(df, 0.975))
