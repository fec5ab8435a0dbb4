"""Heat over a limit, from daily temperatures: degree-days, and the longest run of days above it.

Days are numbers in order; a missing day is simply not there, and is never taken as nothing.
"""

import math
from collections.abc import Iterable, Sequence


def degree_days(means_degc: Iterable[float], limit_degc: float) -> float:
    """Sum of what daily means lie above the limit, in degC days. Source: the usual definition, by daily means."""
    return math.fsum(max(0.0, mean - limit_degc) for mean in means_degc)


def sine_degree_days(least_degc: float, greatest_degc: float, limit_degc: float) -> float:
    """Degree-days over a limit of one day of which only the least and greatest temperature are known.

    A single sine wave through both. Raises ValueError when the least is above the greatest.
    Source: Baskerville & Emin 1969, Ecology 50:514 (from memory).
    """
    if least_degc > greatest_degc:
        raise ValueError(f"the least temperature of a day, {least_degc}, is above its greatest, {greatest_degc}")
    mean, swing = (least_degc + greatest_degc) / 2, (greatest_degc - least_degc) / 2
    if least_degc >= limit_degc:
        return mean - limit_degc
    if greatest_degc <= limit_degc:
        return 0.0
    crossing = math.asin((limit_degc - mean) / swing)
    return ((mean - limit_degc) * (math.pi / 2 - crossing) + swing * math.cos(crossing)) / math.pi


def longest_run(above: Sequence[bool | None]) -> tuple[int, int]:
    """The longest run of days above a limit, least and greatest: None is a day of which nothing is known."""
    return _longest(a is True for a in above), _longest(a is not False for a in above)


def _longest(hot: Iterable[bool]) -> int:
    best = run = 0
    for day in hot:
        run = run + 1 if day else 0
        best = max(best, run)
    return best
