"""Cost per hectare and shared costs, compared with published figures and worked examples.

"Own run" marks figures made with numpy and scipy from the formulas of Cochran 1977 and Fieller 1954 when the
statistics were researched, before these functions were written.
"""

import datetime as dt
import math
from decimal import Decimal
from fractions import Fraction

import numpy as np
import pytest
import statsmodels.api as sm
import statsmodels.datasets.cancer
import statsmodels.datasets.macrodata
from scipy.stats import norm
from scipy.stats import t as student

from pipeline.indicators.cost import fieller, ratio_of_totals, share_out
from pipeline.indicators.paid import Books, Paid, Prices, at_base

COSTS = [4200, 3100, 5600, 2500, 3900, 7400, 2900, 4600]
HECTARES = [0.05, 0.03, 0.08, 0.02, 0.04, 0.10, 0.03, 0.05]


def textbook_fieller(costs, areas):
    """Fieller's limits as the roots of the unshifted quadratic, the slow
    twin; None where they are unbounded."""
    x, y = np.asarray(areas, float), np.asarray(costs, float)
    t2 = student.ppf(0.975, len(x) - 1) ** 2
    v = np.cov(x, y) / len(x)
    a, b, c = x.mean() ** 2 - t2 * v[0, 0], x.mean() * y.mean() - t2 * v[0, 1], y.mean() ** 2 - t2 * v[1, 1]
    return None if a <= 0 else tuple(np.roots([a, -2 * b, c])[::-1])


def standard_error(figure):
    return (figure.high - figure.low) / 2 / student.ppf(0.975, figure.n - 1)


def test_ratio_of_totals_vector():
    """Eight sites give 85500 per ha, error 5493.05, limits 72511.0 to
    98489.0 (Cochran's formula, own run)."""
    figure = ratio_of_totals(COSTS, HECTARES, unit="EUR per ha")
    assert figure.value == pytest.approx(85500)
    assert (figure.low, figure.high) == pytest.approx((72511.0, 98489.0), abs=0.051)
    assert standard_error(figure) == pytest.approx(5493.05, abs=0.0051)
    assert (figure.unit, figure.n, figure.n_of, figure.cautions) == ("EUR per ha", 8, "sites", ())


def test_it_is_not_the_mean_of_ratios():
    """The mean of the sites' own costs per hectare, 92812.5 for the same eight sites, is another quantity."""
    assert np.mean(np.divide(COSTS, HECTARES)) == pytest.approx(92812.5)
    assert ratio_of_totals(COSTS, HECTARES).value < 92812.5 - 7000


def test_sums_are_exactly_rounded():
    """Ten sites of 0.1 on 0.1 ha, the standard example of drifting sums, cost exactly 1 per ha."""
    assert ratio_of_totals([0.1] * 10, [0.1] * 10).value == ratio_of_totals([0.1] * 10, [1.0] + [0.0] * 9).value == 1


def test_fieller_vector():
    """Fieller's limits (1954, t on 7 df) of the same eight sites are
    76364.9 to 108809.8 (own run), in the note."""
    assert fieller(COSTS, HECTARES) == pytest.approx((76364.9, 108809.8), abs=0.051)
    note = ratio_of_totals(COSTS, HECTARES).note
    assert note.startswith("of the costs told, exact for these sites; the interval speaks of other sites like these; ")
    assert note.endswith("Fieller's check 76364.89 to 108809.76")


def test_cancer_counties():
    """301 counties (Rice 1995, in statsmodels.datasets.cancer) give
    11997/3397705 with error 6.63469e-05 (own run)."""
    counties = statsmodels.datasets.cancer.load_pandas().data
    figure = ratio_of_totals(counties.cancer.tolist(), counties.population.tolist())
    se = standard_error(figure)
    assert (figure.n, figure.value) == (301, pytest.approx(11997 / 3397705, rel=1e-12))
    assert figure.value == pytest.approx(0.0035309128, abs=5.1e-11)
    assert se == pytest.approx(6.63469e-05, abs=5.1e-11)
    assert figure.value + norm.ppf(0.975) * se == pytest.approx(0.0036609503, abs=5.1e-11)


@pytest.mark.parametrize("data", ["sites", "counties"])
def test_ratio_of_totals_against_statsmodels(data):
    """Value and error are those of statsmodels' WLS through the origin,
    weights 1/area, HC1 errors: the same sums."""
    costs, areas = COSTS, HECTARES
    if data == "counties":
        counties = statsmodels.datasets.cancer.load_pandas().data
        costs, areas = counties.cancer.tolist(), counties.population.tolist()
    fitted = sm.WLS(costs, areas, weights=1 / np.array(areas)).fit(cov_type="HC1")
    figure = ratio_of_totals(costs, areas)
    assert (figure.value, standard_error(figure)) == pytest.approx((fitted.params[0], fitted.bse[0]), rel=1e-9)


def test_cancer_counties_fieller():
    """Fieller's limits of the 301 counties, t on 300 df, are .0033981643
    to .0036618391 (own run with numpy)."""
    counties = statsmodels.datasets.cancer.load_pandas().data
    costs, areas = counties.cancer.tolist(), counties.population.tolist()
    assert fieller(costs, areas) == pytest.approx((0.0033981643, 0.0036618391), abs=5.1e-11)
    assert fieller(costs, areas) == pytest.approx(textbook_fieller(costs, areas), rel=1e-9)


@pytest.mark.parametrize("costs", [COSTS, COSTS[::-1]])
def test_fieller_against_its_slow_twin(costs):
    """The shifted quadratic has the roots of Fieller's own (numpy.roots), whichever side is the longer."""
    assert fieller(costs, HECTARES) == pytest.approx(textbook_fieller(costs, HECTARES), rel=1e-9)


def test_fieller_of_equal_areas_is_the_plain_t_interval():
    """When all areas are equal, Fieller's limits are the t limits of the
    mean cost over that area, by hand."""
    low, high = fieller([10.0, 14.0, 18.0], [2.0, 2.0, 2.0])
    half = 4.302653 * 4 / math.sqrt(3) / 2  # t on 2 df from any printed table
    assert (low, high) == pytest.approx((7 - half, 7 + half), rel=1e-6)


def test_unbounded_fieller_is_said():
    """When the mean area is not surely above zero Fieller's set is
    unbounded, and the figure says so twice."""
    costs, areas = [900.0, 1000.0, 1400.0], [0.001, 0.002, 0.09]
    assert fieller(costs, areas) is None
    assert textbook_fieller(costs, areas) is None
    figure = ratio_of_totals(costs, areas)
    assert figure.note.endswith("Fieller's check is unbounded")
    assert "Fieller's check is unbounded: these areas cannot say how dear one more may be" in figure.cautions


def test_a_cost_is_not_negative():
    """Where no cost is negative the lower limit stops at zero and a
    caution says so; with a refund it does not."""
    figure = ratio_of_totals([900.0, 1000.0, 1400.0], [0.001, 0.002, 0.09])
    assert figure.low == 0.0
    assert "the sites differ so much that the lower limit was cut off at zero" in figure.cautions
    refunded = ratio_of_totals([-50.0, 1000.0, 1400.0], [0.001, 0.002, 0.09])
    assert refunded.low < 0
    assert len(refunded.cautions) == 1


def test_one_site():
    """One site shows nothing of how sites differ, so it has a value, no
    interval, and a note (Cochran 1977)."""
    figure = ratio_of_totals([4200], [0.05])
    assert (figure.value, figure.low, figure.high, figure.n) == (pytest.approx(84000), None, None, 1)
    assert figure.note == "one site: no interval, since nothing shows how sites differ"
    with pytest.raises(ValueError, match="at least two"):
        fieller([4200], [0.05])


@pytest.mark.parametrize("costs", [[500, 1500, 1000], [0, 0, 0], [33333.33, 99999.99, 66666.67]])
def test_costs_in_proportion_to_areas(costs):
    """Costs that follow the areas to the cent, as when shared out by area, show no spread, so no interval is made."""
    figure = ratio_of_totals(costs, [1.0, 3.0, 2.0])
    assert (figure.state, figure.low, figure.high) == ("estimated", None, None)
    assert figure.note.startswith("costs in proportion to the areas")


@pytest.mark.parametrize(
    ("costs", "areas", "why"),
    [
        ([], [], "no site has a cost and an area"),
        ([5], [0], "the total area is zero"),
        ([5, 6], [0, 0.0], "the total area is zero"),
    ],
)
def test_no_area(costs, areas, why):
    """Without any area there is no cost per hectare, and the reason is said."""
    figure = ratio_of_totals(costs, areas)
    assert (figure.state, figure.value, figure.n, figure.note) == ("not estimable", None, len(costs), why)
    if len(costs) > 1:
        assert fieller(costs, areas) is None


def test_a_site_without_area_still_costs():
    """Money spent on a site where nothing was treated stays in the numerator, by hand: 300 on 2 ha is 150."""
    assert ratio_of_totals([100, 100, 100], [1, 1, 0]).value == 150


@pytest.mark.parametrize(
    ("costs", "areas"),
    [([1], [1, 2]), ([math.nan], [1]), ([math.inf], [1]), ([1], [-1]), ([1], [math.nan]), ([1], [math.inf])],
)
def test_what_is_no_cost_or_area_is_refused(costs, areas):
    """Amounts and areas are finite, areas not negative, one of each per site."""
    with pytest.raises(ValueError, match=r"zip|not a"):
        ratio_of_totals(costs, areas)


@pytest.mark.parametrize(
    ("total", "weights", "parts"),
    [
        (10000, {"b": 1, "a": 1, "c": 1}, {"a": 3334, "b": 3333, "c": 3333}),
        (20000, {"b": 1, "a": 1, "c": 1}, {"a": 6667, "b": 6667, "c": 6666}),
        (-10000, {"b": 1, "a": 1, "c": 1}, {"a": -3334, "b": -3333, "c": -3333}),
        (100000, {"x": Fraction(25, 2), "y": Fraction(15, 2), "z": 5}, {"x": 50000, "y": 30000, "z": 20000}),
        (10, {"a": 1, "b": 6}, {"a": 1, "b": 9}),
        (1, {"a": 1, "b": 2}, {"a": 0, "b": 1}),
        (7, {"a": 0, "b": 3}, {"a": 0, "b": 7}),
        (0, {"a": 1, "b": 2}, {"a": 0, "b": 0}),
    ],
)
def test_share_out_vectors(total, weights, parts):
    """Parts are whole cents by largest remainder, ties to the first key:
    100.00 over three is 33.34 33.33 33.33."""
    assert share_out(total, weights) == parts
    assert list(share_out(total, weights)) == sorted(weights)


@pytest.mark.parametrize("weights", [{}, {"a": 0}, {"a": 0, "b": Fraction(0)}])
def test_nothing_to_share_by(weights):
    """Without any weight the cost stays unallocated (None), and nothing is divided by zero."""
    assert share_out(10000, weights) is None


def books_of(paid, index, base, rate):
    """One cost, an index and a rate."""
    prices = Prices(2009, index, base, rate, "drawn")
    return Books((paid,), {}, (), (), "EUR", dt.date(2026, 1, 1), prices=prices), prices


def money(currency, hundredths, year, month):
    """A cost in cash of that month."""
    return Paid(
        None,
        "equal",
        "cash",
        currency,
        Decimal(1),
        None,
        "boat",
        "deploy",
        "club",
        None,
        year,
        month,
        None,
        None,
        hundredths,
    )


def test_consumer_prices_vector():
    """1000.00 USD of early 2000 are 1266.15 of late 2009: consumer prices in statsmodels.datasets.macrodata."""
    cpi = statsmodels.datasets.macrodata.load_pandas().data.set_index(["year", "quarter"]).cpi
    then, now = Decimal(str(cpi[2000, 1])), Decimal(str(cpi[2009, 3]))
    assert (then, now) == (Decimal("170.9"), Decimal("216.385"))
    books, prices = books_of(
        money("USD", 100_000_000, 2000, 2), {("USD", 2000, 2): then}, {"USD": Fraction(now)}, {"USD": Fraction(1)}
    )
    [(_, hundredths)], missing = at_base(books, prices, "cash")
    assert (hundredths / 100_000, missing) == (pytest.approx(1266.149795, abs=5e-6), [])


def test_deflated_first_then_changed():
    """1000.00 NOK of 2022 at that year's index of 100 and 105.5 in 2023, changed at 2023's mean 11.4248, are 92.34 EUR."""
    index = {("NOK", 2022, 0): Decimal(100), ("NOK", 2023, 0): Decimal("105.5")}
    rate = {"NOK": Fraction("11.4248")}
    books, prices = books_of(money("NOK", 100_000, 2022, 6), index, {"NOK": Fraction("105.5")}, rate)
    [(_, hundredths)], _ = at_base(books, prices, "cash")
    assert hundredths == 9234


def test_what_cannot_be_shared_is_refused():
    """A float has already lost cents and a negative weight has no meaning, so both are refused."""
    with pytest.raises(TypeError, match="must be whole or a fraction"):
        share_out(100, {"a": 12.5})
    with pytest.raises(TypeError, match="whole cents"):
        share_out(100.0, {"a": 1})
    with pytest.raises(ValueError, match="negative"):
        share_out(100, {"a": -1, "b": 2})
