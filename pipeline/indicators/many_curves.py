"""Rough curves of many samples at once: a draw of sites after another, each refitted as `turnbull.fit` would."""

from collections.abc import Iterator
from dataclasses import replace

import numpy as np
import numpy.typing as npt

from .turnbull import Cover, Floats, Ints, Turnbull, climb

TURNS = 60  # for all samples together; those that have not arrived by then are climbed one by one
CELLS = 200_000  # samples times intervals: so many lie side by side in memory
LEAST = 0.01  # of what EM gives a mass, so much it keeps however far a leap goes


def rough_curves(left: Floats, right: Floats, table: Ints, short: float) -> list[Turnbull]:
    """For every row of `table` the curve of so many units of each interval (left, right], in days.

    left, right: as `turnbull.distinct` gives them; table: samples x intervals, units of each. short: log-likelihood that a curve may
    fall short of. EM with leaps brings most samples there, and takes them all in one step of arrays; no optimality test.
    Every row has units. Sources: Turnbull 1976, J. R. Stat. Soc. B 38:290; Varadhan & Roland 2008, Scand. J. Stat. 35:335.
    """
    at_once = max(1, CELLS // len(left))
    return [
        curve
        for start in range(0, len(table), at_once)
        for curve in _at_once(list(_samples(left, right, table[start : start + at_once])), short)
    ]


def _at_once(samples: list[Cover], short: float) -> list[Turnbull]:
    mass, arrived = _Together(samples).climbed(short)
    return [
        one.curve(row[: len(one.q)] if there else climb(one, [(0, len(one.q), 1.0)], short, row[: len(one.q)]))
        for one, row, there in zip(samples, mass, arrived, strict=True)
    ]


def _samples(left: Floats, right: Floats, table: Ints) -> Iterator[Cover]:
    # where mass can lie depends on which intervals there are, not on how many units have them
    laid: dict[bytes, Cover] = {}
    for units in table:
        had = units > 0
        alike = had.tobytes()
        if alike not in laid:
            laid[alike] = Cover.of(left[had], right[had], units[had])
        yield replace(laid[alike], count=units[had], n=int(units.sum()))


class _Together:
    """The samples' masses as rows of one array, each filled up with zeros, and their intervals one after the other."""

    def __init__(self, samples: list[Cover]) -> None:
        self.sizes = np.array([len(one.q) for one in samples])
        self.shape = len(samples), int(self.sizes.max()) + 1  # a row of cumulated masses begins with 0
        begins = np.arange(len(samples)) * self.shape[1]
        self.first = np.concatenate([at + one.first for at, one in zip(begins, samples, strict=True)])
        self.stop = np.concatenate([at + one.stop for at, one in zip(begins, samples, strict=True)])
        self.row = np.repeat(np.arange(len(samples)), [len(one.count) for one in samples])
        self.count = np.concatenate([one.count for one in samples])
        self.n = np.array([one.n for one in samples])
        self.real = np.arange(self.shape[1] - 1) < self.sizes[:, None]

    def climbed(self, short: float) -> tuple[Floats, npt.NDArray[np.bool_]]:
        """The masses (samples x places), and whether each sample's are within `short` of its greatest log-likelihood."""
        mass = self.real / self.sizes[:, None]
        chance = self._chance(mass)
        for turn in range(TURNS + 1):
            slope = self._slope(chance)
            arrived = slope.max(1) - self.n <= short  # the log-likelihood is concave: this bounds what is left to climb
            if arrived.all() or turn == TURNS:
                break
            once = _whole(mass * slope)
            twice = _whole(once * self._slope(self._chance(once)))
            leapt = _leapt(mass, once, twice)
            after_leap, after_two = self._chance(leapt), self._chance(twice)
            better = self._loglik(after_leap) > self._loglik(after_two)
            mass = np.where(better[:, None], leapt, twice)
            chance = np.where(better[self.row], after_leap, after_two)
        return mass, arrived

    def _chance(self, mass: Floats) -> Floats:
        up_to = np.zeros(self.shape)
        np.cumsum(mass, axis=1, out=up_to[:, 1:])
        return np.asarray(up_to.ravel()[self.stop] - up_to.ravel()[self.first])

    def _loglik(self, chance: Floats) -> Floats:
        return np.bincount(self.row, self.count * np.log(chance)).astype(np.float64)

    def _slope(self, chance: Floats) -> Floats:
        pull, size = self.count / chance, self.shape[0] * self.shape[1]
        starts, ends = np.bincount(self.first, pull, size), np.bincount(self.stop, pull, size)
        slope = (starts - ends).reshape(self.shape).cumsum(1)[:, :-1]
        return np.where(self.real, slope, 0.0)


def _whole(mass: Floats) -> Floats:
    return np.asarray(mass / mass.sum(1, keepdims=True))


def _leapt(mass: Floats, once: Floats, twice: Floats) -> Floats:
    """As far on as two steps of EM promise, in every row; no mass falls below a small part of what EM gives it."""
    first, bend = once - mass, twice - 2 * once + mass
    straight = (bend**2).sum(1)
    reach = np.sqrt((first**2).sum(1) / np.where(straight > 0, straight, 1.0))[:, None]
    return _whole(np.maximum(mass + 2 * reach * first + reach**2 * bend, LEAST * twice))
