"""How often a unit that is there is called missing, the day half are gone and bounds of sites not found, against outside figures."""

import math

import pytest
from scipy.stats import binomtest
from test_turnbull_reference import RAD, RADCHEM

from pipeline.indicators.detection import missed_though_there
from pipeline.indicators.half_gone import half_gone
from pipeline.indicators.retention import if_not_found

INF = math.inf


@pytest.mark.parametrize(("misses", "found"), [(6, 224), (1, 1), (3, 0), (0, 20), (39, 1344)])
def test_limits_are_clopper_and_pearsons(misses, found):
    """The limits are the exact ones of Clopper & Pearson 1934, as scipy's binomtest has them."""
    figure, theirs = missed_though_there(misses, found), binomtest(misses, misses + found).proportion_ci(0.95, "exact")
    assert figure.value == misses / (misses + found)
    assert (figure.low, figure.high) == (pytest.approx(theirs.low), pytest.approx(theirs.high))


def test_none_missed_is_no_certainty():
    """None missed in 20 looks: at most 0.1684 by the exact one-sided bound 1 - 0.025^(1/20), by hand."""
    figure = missed_though_there(0, 20)
    assert (figure.value, figure.low) == (0.0, 0.0)
    assert figure.high == pytest.approx(0.1684, abs=5e-5)


def test_without_a_second_look_nothing_is_known():
    """No look before the last sighting: a stated refusal."""
    figure = missed_though_there(0, 0)
    assert figure.state == "not estimable" and figure.value is None and "nobody knows" in figure.note


def test_half_gone_on_breast_cosmesis():
    """Of RADCHEM half had failed within (19, 20] months, of RAD within (38, 40], by the masses of Fay & Shaw 2010."""
    radchem, rad = half_gone(RADCHEM), half_gone(RAD)
    assert (radchem.state, radchem.value_from, radchem.value_to) == ("bounded", 19, 20)
    assert (rad.state, rad.value_from, rad.value_to) == ("bounded", 38, 40)
    assert radchem.low is None and "no 95 % interval" in radchem.note


def test_half_gone_is_the_median_where_days_are_known():
    """Where every loss has its day, half are gone at Kaplan and Meier's median: 8 and 23 weeks of Freireich et al. 1963 (placebo, 6-MP),
    and 56 days of the flies of lifelines' `load_waltons`, which lifelines gives too."""
    from lifelines.datasets import load_leukemia, load_waltons

    leukemia, flies = load_leukemia(), load_waltons()
    for days, lost, median in (
        *((of["t"], of["status"], m) for of, m in ((leukemia[leukemia.Rx == 1], 8), (leukemia[leukemia.Rx == 0], 23))),
        (flies["T"], flies["E"], 56),
    ):
        units = [(float(t), float(t) if e else INF, 1) for t, e in zip(days, lost, strict=True)]
        assert half_gone(units).value == median


def test_half_gone_by_hand():
    """Exactly half gone by a visit is half gone; a day seen is told; fewer than half gone is not reached, never a day."""
    by_visit = half_gone([(0.0, 30.0, 5), (30.0, INF, 5)])
    assert (by_visit.value_from, by_visit.value_to) == (0, 30)
    assert half_gone([(12.0, 12.0, 5), (30.0, INF, 5)]).value == 12
    short = half_gone([(0.0, 30.0, 4), (30.0, INF, 5), (60.0, INF, 1)])
    assert (
        short.state == "not estimable"
        and "not reached: on day 60, the last on which the curve is known, 0.600" in short.note
    )
    nothing = half_gone([(0.0, INF, 4)])
    assert nothing.state == "not estimable" and nothing.n == 0


def test_bounds_of_a_site_never_found_again():
    """5 of 10 kept at one site and 10 never looked for at the other: 5 to 15 of 20 by hand; without such a site an error."""
    sites = {"a": [(0.0, 30.0, 5), (90.0, INF, 5)], "b": [(0.0, INF, 10)]}
    figure = if_not_found(sites, 60, {"b": [(0.0, 10, 45.0)]})
    assert (figure.state, figure.n) == ("bounded", 20)
    assert (figure.value_from, figure.value_to) == (pytest.approx(5 / 20), pytest.approx(15 / 20))
    assert figure.value is None and figure.low is None and "b" in figure.note
    with pytest.raises(ValueError, match="every site was found again"):
        if_not_found(sites, 60, {})
