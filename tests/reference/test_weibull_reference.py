"""Weibull's curve against published figures and outside programs."""

import math

import numpy as np
import pytest
from lifelines import WeibullFitter
from scipy.stats import CensoredData, weibull_min
from scipy.stats import t as student
from test_turnbull_reference import RAD, RADCHEM, exact, leukaemia

from pipeline.indicators.retention import sorted_out
from pipeline.indicators.weibull import fit, weibull_over_sites

INF = math.inf

# shape, scale, log-likelihood, S(12), S(24), S(40): lifelines, scipy and R survreg agree on them
COSMESIS = {
    "RAD": (RAD, 1.12161, 57.5131, -64.73147, (0.84161, 0.68714, 0.51404)),
    "RADCHEM": (RADCHEM, 2.03024, 28.0425, -75.71507, (0.83654, 0.48238, 0.12789)),
    "pooled": (RAD + RADCHEM, 1.49999, 37.3847, -148.79243, ()),
}


def curve_of(rows):
    """The fitted curve of (L, R, units)."""
    data, _ = sorted_out(rows)
    return fit(data)


@pytest.mark.parametrize("arm", COSMESIS)
def test_breast_cosmesis(arm):
    """Shape, scale, log-likelihood and S of Finkelstein & Wolfe 1985's data are those of R survreg."""
    rows, shape, scale, loglik, survival = COSMESIS[arm]
    curve = curve_of(rows)
    assert (curve.shape, curve.scale) == (pytest.approx(shape, abs=1e-5), pytest.approx(scale, abs=6e-5))
    assert curve.loglik == pytest.approx(loglik, abs=6e-6)
    assert [curve.survival(day) for day in (12, 24, 40)][: len(survival)] == pytest.approx(survival, abs=6e-6)


@pytest.mark.parametrize("arm", COSMESIS)
def test_lifelines_and_scipy_agree(arm):
    """lifelines' WeibullFitter and scipy's weibull_min find the same curve of breast cosmesis."""
    rows = COSMESIS[arm][0]
    left, right = (np.repeat([r[i] for r in rows], [r[2] for r in rows]) for i in (0, 1))
    theirs = WeibullFitter().fit_interval_censoring(left, right)
    ours = curve_of(rows)
    assert (ours.scale, ours.shape) == (pytest.approx(theirs.lambda_, rel=1e-4), pytest.approx(theirs.rho_, rel=1e-4))
    inside = (left > 0) & np.isfinite(right)
    told = CensoredData(
        interval=np.array([left[inside], right[inside]]).T, left=right[left == 0], right=left[np.isinf(right)]
    )
    shape, _, scale = weibull_min.fit(told, floc=0)
    assert (ours.scale, ours.shape) == (pytest.approx(scale, rel=1e-3), pytest.approx(shape, rel=1e-3))


def test_leukaemia_with_known_days():
    """Of the 6-MP arm (Freireich 1963; days known where L = R): scale 33.7652, shape 1.35373, ll -41.65868 (lifelines)."""
    curve = curve_of(exact(*leukaemia()))
    assert (curve.scale, curve.shape) == (pytest.approx(33.7652, abs=6e-5), pytest.approx(1.35373, abs=6e-6))
    assert curve.loglik == pytest.approx(-41.65868, abs=6e-6)


def test_limits_are_the_jackknifes():
    """Limits are log(-log S) plus and minus t (sites less one) times the delete-one spread (Tukey 1958), by lifelines."""
    sites = {"a": RAD[:12], "b": RAD[12:], "c": RADCHEM[:20], "d": RADCHEM[20:]}
    day = 24

    def theirs(names):
        rows = [r for n in names for r in sites[n]]
        left, right = (np.repeat([r[i] for r in rows], [r[2] for r in rows]) for i in (0, 1))
        w = WeibullFitter().fit_interval_censoring(left, right)
        return w.rho_ * (math.log(day) - math.log(w.lambda_))

    middle = theirs(sites)
    without = np.array([theirs([n for n in sites if n != out]) for out in sites])
    reach = student.ppf(0.975, 3) * math.sqrt(3 / 4 * ((without - without.mean()) ** 2).sum())
    figure = weibull_over_sites(sites, day)
    assert figure.value == pytest.approx(math.exp(-math.exp(middle)), abs=2e-4)
    assert figure.low == pytest.approx(math.exp(-math.exp(middle + reach)), abs=1e-3)
    assert figure.high == pytest.approx(math.exp(-math.exp(middle - reach)), abs=1e-3)
    assert "t with 3 df" in figure.estimator


REFUSED = {
    "nobody lost": ([(30, INF, 5)], 20, "no unit is known lost"),
    "all lost before the first visit": ([(0, 30, 5)], 20, "every loss may have come on one day"),
    "losses share a day": ([(0, 30, 5), (20, 60, 2)], 20, "every loss may have come on one day"),
    "lost early or never": ([(0, 30, 3), (60, INF, 2)], 20, "the losses tell too little of a curve"),
    "past the last look": ([(0, 30, 3), (20, 60, 1), (40, INF, 2)], 61, "not estimable after day 60"),
    "the day they were put down": ([(0, 30, 3), (20, 60, 1), (40, INF, 2)], 0, "no curve is needed"),
    "never looked for": ([(0, INF, 3)], 20, "no unit was ever looked for again"),
}


@pytest.mark.parametrize("case", REFUSED)
def test_refusals(case):
    """Where no curve can be drawn the figure says why and gives no number."""
    rows, day, why = REFUSED[case]
    figure = weibull_over_sites({"a": rows}, day)
    assert figure.state == "not estimable" and why in figure.note
    assert (figure.value, figure.low, figure.high) == (None, None, None)


TELLING = [(0, 30, 3), (20, 60, 1), (40, INF, 2)]


def test_no_interval_where_sites_are_few_or_alike():
    """Two sites, sites that do not differ, and sites of which one tells of every loss have a figure without interval."""
    two = weibull_over_sites({"a": TELLING, "b": TELLING}, 30)
    assert two.state == "estimated" and two.low is None and "2 of the 3 needed" in two.note
    alike = weibull_over_sites(dict.fromkeys("abc", TELLING), 30)
    assert alike.low is None and "the sites do not differ" in alike.note
    lone = weibull_over_sites({"a": TELLING, "b": [(50, INF, 4)], "c": [(45, INF, 4)]}, 30)
    assert lone.low is None and "with one site left out, no unit is known lost" in lone.note


def test_a_unit_gone_on_the_day_it_was_put_down():
    """A loss seen on day 0 counts as one within the first day."""
    assert curve_of([*TELLING, (0, 0, 1)]) == curve_of([*TELLING, (0, 1, 1)])
