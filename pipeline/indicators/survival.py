"""How many of the plants of one survey are still there at a later one: in the same frames, or by densities.

It is apparent survival: who came in between and grew up counts as a survivor, who was overlooked as lost.
"""

import math
from collections.abc import Sequence

from .contrast import log_ratio_spread, too_few
from .density import FRAMES, NO_INTERVAL, few_frames, log_limits
from .estimate import Estimate, not_estimable
from .sample import Times, checked_frames
from .totals import careful

UNIT = "fraction"
PAIRED, DENSITIES = (
    "ratio of totals, jackknife over fixed frames, log, t",
    "log ratio of densities, wider of quasi-Poisson and Welch, t",
)
NONE_THERE = "no plant was there at the first survey"
MORE = "more than were there at first: plants came in between"


def in_same_frames(frames: Sequence[tuple[int, int]]) -> Estimate:
    """Plants left over plants there, fixed frames counted twice, the frame as unit.

    frames  (plants at the first survey, those of them that may be left at the second) of each frame, none negative.

    Limits are value * e^(+-t se / value), se and the degrees of freedom those of `totals.careful`, se never below that
    of independent plants. None left: at most 1 - 0.025^(1/m), as if the plants of each of those m frames shared one fate; all left alike.
    One such frame: no interval. No plant at first: not estimable. Raises ValueError for a negative number.
    Sources: those of `careful`; limits on the log scale by the delta method.
    """
    pairs = sorted((int(there), int(left)) for there, left in frames)
    if any(min(pair) < 0 for pair in pairs):
        raise ValueError("plants cannot be fewer than none")
    there, left, n = sum(x for x, _ in pairs), sum(y for _, y in pairs), len(pairs)
    held = sum(x > 0 for x, _ in pairs)
    note = f"{there} plants in {held} of {n} fixed frames, {left} at the second survey"
    if not there:
        return not_estimable(NONE_THERE, unit=UNIT, n=n, n_of=FRAMES, estimator=PAIRED)
    value = left / there
    low, high = _limits(pairs, there, value, held) or (None, None)
    if low is None:
        note += "; no interval: " + (
            "all plants were in one frame" if held == 1 else "all frames changed alike, so nothing shows their spread"
        )
    return Estimate("estimated", UNIT, n, FRAMES, PAIRED, value, low, high, note=note).with_cautions(
        few_frames(held), MORE if value > 1 else ""
    )


def _limits(pairs: Sequence[tuple[int, int]], there: int, value: float, held: int) -> tuple[float, float] | None:
    if held < 2:
        return None
    one_fate = 0.025 ** (1 / held)
    if not value:
        return 0.0, 1 - one_fate
    if all(x == y for x, y in pairs):
        return one_fate, 1.0
    chance = math.sqrt(value * (1 - value) / there) if value < 1 else 0.0
    _, spread, df = careful(pairs)
    se = max(spread, chance)
    return log_limits(value, se / value, df) if se else None


def by_densities(
    first_plants: Sequence[int],
    first_areas_m2: Sequence[float],
    second_plants: Sequence[int],
    second_areas_m2: Sequence[float],
    times: Times = (None, None),
) -> Estimate:
    """Density of plants left over density of plants at first, frames laid anew: two independent samples.

    Limits as of the ratio of two densities (`contrast.ratio`); where none is left the upper one is made with half a
    plant. times: how many frames of the first and the second survey have each count and area; one where not told. Not
    estimable without a plant at first, or with fewer than two frames at either survey. Raises as `density`.
    Sources: McCullagh & Nelder 1989; Welch 1947, Biometrika 34:28 (from memory).
    """
    first = checked_frames(first_plants, first_areas_m2, times[0])
    second = checked_frames(second_plants, second_areas_m2, times[1])
    n = len(first) + len(second)
    there, left = first.total, second.total
    if refused := too_few({"first": first, "second": second}) or ("" if there else NONE_THERE):
        return not_estimable(refused, unit=UNIT, n=n, n_of=FRAMES, estimator=DENSITIES)
    spread = log_ratio_spread(second, first)
    shown = (left or 0.5) / second.area_m2 / (there / first.area_m2)
    limits = log_limits(shown, math.sqrt(max(spread.quasi, spread.welch)), min(spread.quasi_df, spread.welch_df))
    value, (low, high) = left / second.area_m2 / (there / first.area_m2), limits or (None, None)
    note = f"{there} plants in {len(first)} frames, {left} in {len(second)} frames at the second survey; frames were laid anew"
    return Estimate(
        "estimated", UNIT, n, FRAMES, DENSITIES, value, low if left or low is None else 0.0, high,
        note=note if limits else f"{note}; {NO_INTERVAL}",
    ).with_cautions(
        few_frames(len(first), "first "), few_frames(len(second), "second "), MORE if value > 1 else ""
    )  # fmt: skip
