"""What must hold for the Weibull curve and the score test whatever the data (hypothesis looks for a breach)."""

import math

from hypothesis import given
from hypothesis import strategies as st
from profiles import examples

from pipeline.indicators.told_apart import told_apart
from pipeline.indicators.weibull import weibull_over_sites

INF = math.inf
VISITS = (0.0, 15.0, 30.0, 60.0, 90.0, 180.0)


@st.composite
def intervals(draw):
    """Units as visits leave them: seen on one visit, gone by a later one or never found gone."""
    rows = []
    for _ in range(draw(st.integers(1, 6))):
        first = draw(st.integers(0, len(VISITS) - 1))
        after = [*VISITS[first + 1 :], INF]
        rows.append((VISITS[first], draw(st.sampled_from(after)), draw(st.integers(1, 6))))
    return rows


SITES = st.dictionaries(st.sampled_from("abcd"), intervals(), min_size=1)


@given(SITES, st.sampled_from([1, 21, 60, 150]))
@examples(60)
def test_a_smooth_curve_falls_and_stays_a_fraction(sites, day):
    """A Weibull figure is refused with a reason or lies within 0..1 and its limits, and no later day has more left."""
    early, late = (weibull_over_sites(sites, d) for d in (day, day + 20))
    for figure in (early, late):
        if figure.state == "not estimable":
            assert figure.note and figure.value is None and figure.low is None
            continue
        assert 0 <= figure.value <= 1
        assert figure.low is None or 0 <= figure.low <= figure.value <= figure.high <= 1
        assert (figure.low is None) == ("no interval" in figure.note)
    if early.value is not None and late.value is not None:
        assert late.value <= early.value


@given(SITES, st.sampled_from([21, 60]))
@examples(30)
def test_no_name_order_or_splitting_of_sites_matters_to_the_curve(sites, day):
    """Sites under other names, rows in another order and a row split in two give the same figure."""
    other = {}
    for site, rows in reversed(sites.items()):
        (left, right, units), *rest = rows
        other["z" + site] = [*rest, (left, right, units - 1), (left, right, 1)]
    assert weibull_over_sites(other, day) == weibull_over_sites(sites, day)


@given(
    st.dictionaries(
        st.sampled_from("abc"), st.dictionaries(st.sampled_from(["bolt", "tie"]), intervals(), min_size=1), min_size=1
    )
)
@examples(30)
def test_a_chance_is_a_chance(sites):
    """Fixings are refused with a reason or have a chance above 0 and at most 1, without limits; calling them otherwise is no matter."""
    figure = told_apart(sites, "fixing")
    if figure.state == "not estimable":
        assert figure.note and figure.value is None
    else:
        assert 0 < figure.value <= 1 and figure.low is None and "significant" not in figure.note
    turned = {"z" + s: dict(reversed(sorts.items())) for s, sorts in sites.items()}
    assert told_apart(turned, "fixing") == figure
