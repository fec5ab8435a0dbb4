"""Our rank correlation against published figures and scipy's."""

import math
from itertools import permutations

import numpy as np
import pytest
from scipy import stats

from pipeline.indicators.rank import kendall


def share_of_orders(estimate):
    """The share of orders that the note tells, in per cent."""
    return int(estimate.note.split("%")[0].split()[-1])


def test_tau_b_is_that_of_scipy():
    """Tau-b with ties on both sides is scipy.stats.kendalltau's (Kendall 1945, Biometrika 33:239)."""
    x, y = [18.4, 18.4, 19.2, 90.5, 18.9, 43.7, 19.2], [3.1, 0.0, 0.0, 1.2, 8.8, 2.0, 4.4]
    assert kendall(x, y).value == pytest.approx(stats.kendalltau(x, y).statistic, abs=1e-12)


@pytest.mark.parametrize(
    ("score", "one_sided"), [(10, 0.0083), (8, 0.042), (6, 0.117), (4, 0.242), (2, 0.408)]
)  # fmt: skip
def test_kendalls_table_of_five(score, one_sided):
    """With five pairs, the orders that reach a score S: Kendall 1970, Rank Correlation Methods, appendix table 1 (from memory)."""
    y = next(p for p in permutations(range(5)) if stats.kendalltau(range(5), p).statistic == pytest.approx(score / 10))
    assert share_of_orders(kendall(list(range(5)), list(y))) == pytest.approx(200 * one_sided, abs=0.6)


@pytest.mark.parametrize("n", [6, 8])
def test_every_order_is_looked_at(n):
    """Without ties the share of orders is scipy's exact p."""
    y = list(np.random.default_rng(n).permutation(n))
    exact = stats.kendalltau(range(n), y, method="exact").pvalue
    assert share_of_orders(kendall(list(range(n)), y)) == round(100 * exact)


def test_drawn_orders_come_near_the_exact_share():
    """Above eight pairs orders are drawn, the same ones each time, and come within a point of scipy's exact p."""
    y = [2, 0, 1, 5, 3, 4, 8, 6, 11, 7, 9, 10]
    first, again = kendall(list(range(12)), y), kendall(list(range(12)), y)
    assert first == again
    y = [5, 0, 1, 7, 3, 11, 2, 6, 4, 8, 9, 10]
    exact = stats.kendalltau(range(12), y, method="exact").pvalue
    assert share_of_orders(kendall(list(range(12)), y)) == pytest.approx(100 * exact, abs=1)


def test_the_interval_is_fisher_s():
    """tanh(atanh(tau) -+ 1.96 sqrt(0.437 / (n - 4))): Fieller, Hartley & Pearson 1957, Biometrika 44:470."""
    y = [1, 0, 2, 3, 5, 4, 7, 6]  # 3 of 28 pairs are the wrong way round
    e, tau = kendall(list(range(8)), y), 22 / 28
    assert e.value == pytest.approx(tau)
    half = 1.959964 * math.sqrt(0.437 / 4)
    assert (e.low, e.high) == pytest.approx((math.tanh(math.atanh(tau) - half), math.tanh(math.atanh(tau) + half)))


def test_it_holds_the_truth_as_often_as_the_catalogue_says():
    """Of 600 seeded pairs of normal columns with a true tau of 0.41, the interval of 8 and of 12 holds it 92 to 98 % of times."""
    dice, true = np.random.default_rng(3), 2 / math.pi * math.asin(0.6)
    for n in (8, 12):
        held = 0
        for _ in range(600):
            x = dice.normal(size=n)
            low_high = _limits(x, 0.6 * x + 0.8 * dice.normal(size=n))
            held += low_high[0] <= true <= low_high[1]
        assert 0.92 <= held / 600 <= 0.98


def _limits(x, y):
    from pipeline.indicators.rank import _interval

    return _interval(float(stats.kendalltau(x, y).statistic), len(x))


@pytest.mark.parametrize(
    ("x", "y", "why"),
    [
        ([1, 2, 3, 4], [4, 3, 2, 1], "only 4 sites; at least 5 are wanted"),
        ([1, 1, 1, 1, 1], [4, 3, 2, 1, 0], "one of the two is the same at all sites"),
        ([1, 2, 3, 4, 5], [0, 0, 0, 0, 0], "one of the two is the same at all sites"),
    ],
)
def test_too_little_is_refused(x, y, why):
    """Under five pairs, or where one of the two does not vary, there is no figure and the reason is told."""
    e = kendall(x, y, "sites")
    assert (e.state, e.note, e.value) == ("not estimable", why, None)


def test_a_perfect_order_has_an_interval_too():
    """All pairs the same way round is 1, with a lower limit far below it: five sites prove little."""
    e = kendall([1, 2, 3, 4, 5], [1, 2, 3, 4, 5])
    assert (e.value, e.high) == (1, 1)
    assert e.low < 0.5
    down = kendall([1, 2, 3, 4, 5], [5, 4, 3, 2, 1])
    assert (down.value, down.low, down.high) == (-1, -1, pytest.approx(-e.low))
