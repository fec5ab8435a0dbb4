"""Dice with a name: the same seed and name give the same throws on any machine and in any order of use.

Everything is made from `random.Random.random()`, whose sequence Python promises to keep; the shapes of the
distributions are spelt out here, so that no library's change of method can move a figure of the demo.
"""

import math
import random
from collections.abc import Sequence
from typing import TypeVar

T = TypeVar("T")


class Dice:
    """One stream of chance, named by what it decides."""

    def __init__(self, *names: object) -> None:
        self.throw = random.Random("/".join(map(str, names))).random  # noqa: S311  # a demo hides nothing

    def chance(self, probability: float) -> bool:
        """True that often."""
        return self.throw() < probability

    def whole(self, low: int, high: int) -> int:
        """A whole number from low to high, both included."""
        return low + int(self.throw() * (high - low + 1))

    def pick(self, among: Sequence[T]) -> T:
        """One of them."""
        return among[int(self.throw() * len(among))]

    def mixed(self, these: Sequence[T]) -> list[T]:
        """The same things in a random order."""
        order = list(these)
        for last in range(len(order) - 1, 0, -1):
            other = self.whole(0, last)
            order[last], order[other] = order[other], order[last]
        return order

    def normal(self) -> float:
        """Standard normal (Box and Muller)."""
        return math.sqrt(-2 * math.log(1 - self.throw())) * math.cos(2 * math.pi * self.throw())

    def weibull(self, scale: float, shape: float) -> float:
        """Weibull waiting time."""
        return scale * float((-math.log(1 - self.throw())) ** (1 / shape))

    def gamma(self, shape: float) -> float:
        """Gamma with scale 1 (Marsaglia and Tsang)."""
        if shape < 1:
            return self.gamma(shape + 1) * float((1 - self.throw()) ** (1 / shape))
        d = shape - 1 / 3
        c = 1 / math.sqrt(9 * d)
        while True:
            x = self.normal()
            v = (1 + c * x) ** 3
            if v > 0 and math.log(1 - self.throw()) < x * x / 2 + d - d * v + d * math.log(v):
                return d * v

    def poisson(self, mean: float) -> int:
        """Poisson, by multiplying throws; a large mean is halved first so that nothing runs under zero."""
        if mean > 30:
            return self.poisson(mean / 2) + self.poisson(mean / 2)
        floor, product, n = math.exp(-mean), self.throw(), 0
        while product > floor:
            product *= self.throw()
            n += 1
        return n

    def negative_binomial(self, mean: float, k: float) -> int:
        """Counts in frames: Poisson round a gamma, variance mean + mean^2 / k."""
        return self.poisson(mean * self.gamma(k) / k) if mean > 0 else 0
