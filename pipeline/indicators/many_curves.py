"""Rough curves of many samples at once: a draw of sites after another, each refitted as `turnbull.fit` would."""

from collections.abc import Iterator
from dataclasses import replace

import numpy as np
import numpy.typing as npt

from .turnbull import Cover, Floats, Ints, Turnbull, climb

TURNS = 250  # of EM, for all samples together; those that have not arrived by then are climbed one by one


def rough_curves(left: Floats, right: Floats, table: Ints, short: float) -> list[Turnbull]:
    """For every row of `table` the curve of so many units of each interval (left, right], in days.

    left, right: as `turnbull.distinct` gives them; table: samples x intervals, units of each. short: log-likelihood that a curve may
    fall short of. Plain EM brings most samples there, and takes them all in one step of arrays; no optimality test.
    Every row has units. Source: Turnbull 1976, J. R. Stat. Soc. B 38:290.
    """
    samples = list(_samples(left, right, table))
    together = _Together(samples)
    mass, arrived = together.climbed(short)
    return [
        one.curve(row[: len(one.q)] if there else climb(one, [(0, len(one.q), 1.0)], short, row[: len(one.q)]))
        for one, row, there in zip(samples, mass, arrived, strict=True)
    ]


def _samples(left: Floats, right: Floats, table: Ints) -> Iterator[Cover]:
    laid: dict[
        bytes, Cover
    ] = {}  # where mass can lie depends on which intervals there are, not on how many units have them
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
        self.count = np.concatenate([one.count for one in samples])
        self.n = np.array([one.n for one in samples])
        self.real = np.arange(self.shape[1] - 1) < self.sizes[:, None]

    def climbed(self, short: float) -> tuple[Floats, npt.NDArray[np.bool_]]:
        """The masses (samples x places), and whether each sample's are within `short` of its greatest log-likelihood."""
        mass = self.real / self.sizes[:, None]
        for turn in range(TURNS + 1):
            slope = self._slope(mass)
            arrived = slope.max(1) - self.n <= short  # the log-likelihood is concave: this bounds what is left to climb
            if arrived.all() or turn == TURNS:
                break
            mass = mass * slope
            mass /= mass.sum(1, keepdims=True)
        return mass, arrived

    def _slope(self, mass: Floats) -> Floats:
        up_to = np.zeros(self.shape)
        np.cumsum(mass, axis=1, out=up_to[:, 1:])
        pull = self.count / (up_to.ravel()[self.stop] - up_to.ravel()[self.first])
        starts = np.bincount(self.first, pull, up_to.size)
        ends = np.bincount(self.stop, pull, up_to.size)
        slope = (starts - ends).reshape(self.shape).cumsum(1)[:, :-1]
        return np.where(self.real, slope, 0.0)
