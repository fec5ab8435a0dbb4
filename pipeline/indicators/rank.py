"""Whether two columns of numbers rise together: Kendall's tau with its interval, and how often chance orders as much."""

import math
from collections.abc import Sequence
from itertools import permutations

import numpy as np

from pipeline.indicators.estimate import Estimate, not_estimable

LEAST = 5
EXACT_UP_TO = 8
DRAWS, SEED = 19_999, 20250418


def kendall(x: Sequence[float], y: Sequence[float], n_of: str = "pairs") -> Estimate:
    """Tau-b of two columns, from -1 (one falls as the other rises) to 1; refused under five pairs or without variation.

    Interval: Fisher's transform with variance 0.437 / (n - 4) (Fieller, Hartley & Pearson 1957, Biometrika 44:470).
    The note tells the share of orders of y that go with x at least as much: every order up to eight pairs, else drawn.
    """
    n, unit = len(x), "from -1 to 1"
    if n < LEAST:
        return not_estimable(f"only {n} {n_of}; at least {LEAST} are wanted", unit=unit, n=n, n_of=n_of)
    if len(set(x)) == 1 or len(set(y)) == 1:
        return not_estimable(f"one of the two is the same at all {n_of}", unit=unit, n=n, n_of=n_of)
    a, b = np.array(x), np.array(y)
    i, j = np.triu_indices(n, 1)
    dx, dy = np.sign(a[i] - a[j]), np.sign(b[i] - b[j])
    score = float(np.sum(dx * dy))
    tau = score / math.sqrt(float(np.sum(dx != 0)) * float(np.sum(dy != 0)))
    low, high = _interval(tau, n)
    share, how = _by_chance(dx, b, abs(score), n)
    return Estimate(
        "estimated", unit, n, n_of, "Kendall's tau-b, Fisher's transform", tau, low, high,
        note=f"of {how} orders that chance can give, {share:.0%} go together as much or more",
    )  # fmt: skip


def _interval(tau: float, n: int) -> tuple[float, float]:
    """Limits of the 95 % interval. A perfect order is taken as half a step short of it, so that its interval is not empty."""
    edge = 1 - 1 / (n * (n - 1) / 2)
    z, half = math.atanh(max(-edge, min(edge, tau))), 1.959964 * math.sqrt(0.437 / (n - 4))
    low, high = math.tanh(z - half), math.tanh(z + half)
    return (-1.0 if tau == -1 else low), (1.0 if tau == 1 else high)


def _by_chance(dx: np.ndarray, b: np.ndarray, score: float, n: int) -> tuple[float, str]:
    """The share of orders of b whose score is at least as far from 0, and how many orders were looked at."""
    i, j = np.triu_indices(n, 1)
    if n <= EXACT_UP_TO:
        orders = np.array(list(permutations(range(n))))
        how = f"all {len(orders)}"
    else:
        dice = np.random.default_rng(SEED)
        orders = np.vstack([np.arange(n), dice.permuted(np.tile(np.arange(n), (DRAWS, 1)), axis=1)])
        how = f"{len(orders)} drawn"
    shuffled = b[orders]
    scores = np.sign(shuffled[:, i] - shuffled[:, j]) @ dx
    return float(np.mean(np.abs(scores) >= score - 1e-9)), how
