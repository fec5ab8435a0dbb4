"""Counted frames as the estimators take them: the different ones, and how many there are of each.

A round of a large programme has thousands of frames and a few dozen different counts, so work goes with what differs.
Sums are exactly rounded: the same bits as of all frames laid out, in whatever order.
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cache, cached_property
from operator import index, mul

MOST_COUNTED = 2**53  # the last whole number that a float holds exactly
LEAST_M2, MOST_M2 = 1e-6, 1e9  # outside these it is a slip of units, not a frame

# Counts, areas in m2 and, where some are alike, how many such frames; as many of each.
Columns = tuple[Sequence[int], Sequence[float]] | tuple[Sequence[int], Sequence[float], Sequence[int]]
Times = tuple[Sequence[int] | None, Sequence[int] | None]  # how many such frames, of two samples


@dataclass(frozen=True)
class Sample:
    """Frames that were checked, as `checked_frames` makes it; its length is the number of frames.

    found  different frames: (count, area in m2).
    times  how many frames are like each of them, 1 or more.
    """

    found: tuple[tuple[int, float], ...]
    times: tuple[int, ...]

    def __len__(self) -> int:
        return self._frames

    @cached_property
    def _frames(self) -> int:
        return sum(self.times)

    @cached_property
    def total(self) -> int:
        """What was counted in all frames."""
        return sum(map(mul, (count for count, _ in self.found), self.times))

    @cached_property
    def area_m2(self) -> float:
        """The area of all frames in m2."""
        return self.sum_of(area for _, area in self.found)

    def sum_of(self, values: Iterable[float]) -> float:
        """Sum over all frames of what each different one comes to; values: in the order of `found`."""
        told = list(values)
        if len(self) == len(told):
            return math.fsum(told)
        return math.fsum([told[nth] * power for nth, power in self._powers])

    @cached_property
    def _powers(self) -> list[tuple[int, float]]:
        """Which of `found`, and the powers of two that its times are the sum of."""
        return [(nth, power) for nth, n in enumerate(self.times) for power in _powers_of_two(n)]


@cache
def _powers_of_two(n: int) -> tuple[float, ...]:
    """Powers of two with the sum n: a float times one of these is exact, so nothing is rounded but a whole sum."""
    return tuple(float(1 << bit) for bit in range(n.bit_length()) if n >> bit & 1)


def checked_frames(counts: Sequence[int], areas_m2: Sequence[float], times: Sequence[int] | None = None) -> Sample:
    """The frames as a sample; raises ValueError or TypeError for what is no frame.

    times  how many frames have each count and area; one where it is not told.
    """
    found = tuple((index(count), float(area)) for count, area in zip(counts, areas_m2, strict=True))
    alike = (1,) * len(found) if times is None else tuple(map(index, times))
    if len(alike) != len(found):
        raise ValueError(f"{len(found)} different frames, but of {len(alike)} it is told how often they were found")
    for count, area in found:
        if not 0 <= count <= MOST_COUNTED:
            raise ValueError(f"a count must lie between 0 and 2^53, not {count}")
        if not LEAST_M2 <= area <= MOST_M2:
            raise ValueError(f"the area of a frame must lie between 1 mm2 and 1000 km2, not {area} m2")
    if alike and min(alike) < 1:
        raise ValueError(f"a frame is found once or more, not {min(alike)} times")
    return Sample(found, alike)
