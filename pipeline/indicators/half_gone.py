"""The day by which half of the units are gone, as near as visits tell."""

import math
from collections.abc import Iterable
from itertools import accumulate

from .estimate import Estimate, not_estimable
from .retention import CURVE, UNITS, Interval, note_of, sorted_out
from .turnbull import fit

UNIT = "days"
CLOSE = 1e-6  # of the curve's masses: half of the units is half, whatever the rounding


def half_gone(intervals: Iterable[Interval]) -> Estimate:
    """First day since put down on which at most half are still attached; n: units with an informative visit.

    bounded: between two visits (value_from, value_to]. not estimable: half are not known gone, then the note tells how
    many were still attached and on which day. No 95 % limits: the bounds are what visits leave open, no more.
    Source: Turnbull 1976.
    """
    data, silent = sorted_out(intervals)
    if data is None:
        return not_estimable(note_of("no unit was looked for again", silent, 0), unit=UNIT, n=0, n_of=UNITS)
    curve = fit(*data)
    reached = next(j for j, gone in enumerate(accumulate(curve.mass)) if gone >= 0.5 - CLOSE)
    q, p = curve.q[reached], curve.p[reached]
    if math.isinf(p):
        left, _ = curve.survival_bounds(q)
        why = f"not reached: on day {q:g}, the last on which the curve is known, {left:.3f} were still attached"
        return not_estimable(note_of(why, silent, curve.n), unit=UNIT, n=curve.n, n_of=UNITS, estimator=CURVE)
    note = note_of("bounds are what visits leave open; they are no 95 % interval", silent, curve.n)
    if q == p:
        note = note_of("the day itself was seen; no 95 % interval is made", silent, curve.n)
        return Estimate("estimated", UNIT, curve.n, UNITS, CURVE, value=q, note=note)
    return Estimate("bounded", UNIT, curve.n, UNITS, CURVE, value_from=q, value_to=p, note=note)
