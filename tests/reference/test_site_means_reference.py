"""Means over sites, the site as the unit, compared with outside programs and published tables."""

import math

import numpy as np
import pytest
from scipy import stats
from statsmodels.stats.weightstats import DescrStatsW

from pipeline.indicators.site_means import SAME, difference_over_sites, geometric_over_sites, mean_over_sites

SLEEP = {"one": 0.7, "two": -1.6, "three": -0.2, "four": -1.2, "five": -0.1, "six": 3.4, "seven": 3.7, "eight": 0.8,
         "nine": 0.0, "ten": 2.0}  # fmt: skip
SITES = {"A": 4.0, "B": 1.0, "C": 2.5, "D": 0.5}


def test_student_s_own_data():
    """The first drug of Student's sleep data (1908, Biometrika 6:1): mean .75, limits -.5297804 to 2.0297804 (R's t.test)."""
    figure = difference_over_sites(SLEEP)
    assert (figure.value, figure.low, figure.high) == pytest.approx((0.75, -0.5297804, 2.0297804), abs=5.1e-8)
    assert (figure.n, figure.n_of) == (10, "sites")


def test_differences_against_statsmodels():
    """The mean of differences has the limits of statsmodels' tconfint_mean."""
    figure = difference_over_sites(SITES)
    assert (figure.low, figure.high) == pytest.approx(DescrStatsW(list(SITES.values())).tconfint_mean())


def test_geometric_mean_against_scipy():
    """The geometric mean and its limits are scipy's gmean and the back-transformed t interval of the logs."""
    figure = geometric_over_sites(SITES)
    logs = np.log(list(SITES.values()))
    limits = stats.t.interval(0.95, 3, loc=logs.mean(), scale=stats.sem(logs))
    assert figure.value == pytest.approx(stats.gmean(list(SITES.values())))
    assert (figure.low, figure.high) == pytest.approx(tuple(np.exp(limits)))


def test_log_of_the_mean_by_hand():
    """Mean 2; standard error .784 over 2 on the log scale with 3 degrees of freedom (delta method), by hand."""
    figure = mean_over_sites(SITES)
    se = stats.sem(list(SITES.values())) / 2
    reach = math.exp(stats.t.ppf(0.975, 3) * se)
    assert (figure.value, figure.low, figure.high) == pytest.approx((2.0, 2 / reach, 2 * reach))
    assert figure.note == "every site has the same weight: D 0.5, B 1, C 2.5, A 4"


@pytest.mark.parametrize(
    ("log_sd", "published", "sites"), [(0.0, 0.957, 5), (0.6, 0.928, 5), (1.0, 0.893, 5), (0.6, 0.930, 8)]
)
def test_coverage_over_sites(log_sd, published, sites):
    """Five quadrats a site, k 2, mean 4: the interval holds the mean over sites as often as 4,000 runs of the method gave."""
    dice, held = np.random.default_rng(5), 0
    runs = 1200
    for _ in range(runs):
        means = 4 * np.exp(log_sd * dice.normal(size=sites) - log_sd**2 / 2)
        counts = dice.negative_binomial(2, 2 / (2 + np.repeat(means, 5))).reshape(sites, 5)
        figure = mean_over_sites({str(n): float(m) for n, m in enumerate(counts.mean(1))})
        held += figure.low <= 4 <= figure.high
    assert held / runs == pytest.approx(published, abs=0.022)


@pytest.mark.parametrize(
    ("method", "values", "why"),
    [
        (mean_over_sites, {"A": 1.0, "B": 2.0}, "only 2 sites to take a mean over: it needs 3"),
        (difference_over_sites, {"A": 1.0}, "only 1 site to take a mean over: it needs 3"),
        (geometric_over_sites, {}, "no site to take a mean over: it needs 3"),
        (mean_over_sites, {"A": 0.0, "B": 0.0, "C": 0.0}, "nothing was found at any of the sites"),
        (
            geometric_over_sites,
            {"A": 1.0, "B": 0.0, "C": 2.0},
            "nothing was found at B: a geometric mean needs something at every site",
        ),
    ],
)
def test_what_gives_no_mean(method, values, why):
    """Fewer than three sites, nothing anywhere, or an empty site under logarithms: a stated reason and no value (own rule)."""
    figure = method(values)
    assert (figure.state, figure.value, figure.low, figure.note) == ("not estimable", None, None, why)
    assert figure.n == len(values)


@pytest.mark.parametrize("method", [mean_over_sites, geometric_over_sites, difference_over_sites])
def test_sites_that_agree_to_the_last_digit_give_no_interval(method):
    """Three equal values are no proof of certainty: the value is given, without limits, and it is said why (own rule)."""
    figure = method({"A": 1.1, "B": 1.1, "C": 1.1})
    assert figure.value == pytest.approx(1.1)
    assert (figure.low, figure.high) == (None, None)
    assert SAME in figure.note


def test_many_sites_are_told_by_their_ends():
    """Beyond twelve sites the note gives the lowest and the highest with their names."""
    figure = mean_over_sites({f"S{n:02}": float(n) for n in range(1, 14)})
    assert figure.note == "every site has the same weight: 13 sites from S01 1 to S13 13"
