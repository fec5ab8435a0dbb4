"""Ratio of two totals over clusters (frames), linearised: what plants, lengths and points in frames share."""

import math
from collections.abc import Sequence


def ratio_and_error(clusters: Sequence[tuple[float, float]]) -> tuple[float, float]:
    """(R, its standard error): R = sum y / sum x over clusters (x, y), none with a negative x, two at least, sum x above 0.

    se = sqrt(sum e^2 / (n - 1) / n) / mean x, e = y - R x; exactly 0 where every y is in proportion to its x. Sums are
    sorted and exactly rounded. Source: Cochran 1977, Sampling Techniques, chapter 6 (from memory).
    """
    told = sorted(clusters)
    n, x, y = len(told), math.fsum(a for a, _ in told), math.fsum(b for _, b in told)
    if all(b * x == y * a for a, b in told):
        return y / x, 0.0
    squares = math.fsum(sorted((b - y / x * a) ** 2 for a, b in told))
    return y / x, math.sqrt(squares / (n - 1) / n) / (x / n)
