"""Recruit density against published figures and outside programs.

"R 4.2.2" and "statsmodels" name the program that made a figure held here; where statsmodels or scipy can be
asked again, the test asks it. InsectSprays (counts of insects per plot, six sprays) comes with R.
"""

import math
import random
import statistics
from fractions import Fraction

import numpy as np
import pytest
import statsmodels.api as sm
from scipy.stats import nbinom, poisson
from scipy.stats import t as student
from statsmodels.stats.rates import confint_poisson

from pipeline.indicators.density import (
    PooledDispersion,
    density,
    garwood,
    pearson_x2,
    pooled_dispersion,
    zero_bound,
)
from pipeline.indicators.sample import checked_frames

INSECT_SPRAYS = {
    "A": [10, 7, 20, 14, 14, 12, 10, 23, 17, 20, 14, 13],
    "B": [11, 17, 21, 11, 16, 14, 17, 17, 19, 21, 7, 13],
    "C": [0, 1, 7, 2, 3, 1, 2, 1, 3, 0, 1, 4],
    "D": [3, 5, 12, 6, 4, 3, 5, 5, 5, 5, 2, 4],
    "E": [3, 5, 3, 5, 3, 6, 1, 1, 3, 2, 6, 4],
    "F": [11, 9, 15, 22, 15, 16, 13, 10, 26, 26, 24, 13],
}
GARWOOD = {
    0: (0, 3.6889),
    1: (0.0253, 5.5716),
    2: (0.2422, 7.2247),
    3: (0.6187, 8.7673),
    4: (1.0899, 10.2416),
    5: (1.6235, 11.6683),
    6: (2.2019, 13.0595),
    7: (2.8144, 14.4227),
    8: (3.4538, 15.7632),
    9: (4.1154, 17.0848),
    10: (4.7954, 18.3904),
    12: (6.2006, 20.9616),
    15: (8.3954, 24.7402),
    20: (12.2165, 30.8884),
    25: (16.1787, 36.9049),
    30: (20.2409, 42.8269),
    40: (28.5766, 54.4686),
    50: (37.1110, 65.9188),
    100: (81.3640, 121.6268),
}
ZERO_RULE = {  # frames: (k=.25, k=.5, k=1, k=2, Poisson)
    3: (33.95, 5.348, 2.420, 1.699, 1.2296),
    5: (4.532, 1.687, 1.091, 0.8923, 0.7378),
    10: (0.8434, 0.5456, 0.4461, 0.4051, 0.3689),
    20: (0.2728, 0.2231, 0.2025, 0.1932, 0.1844),
}
POOL = [([0, 3, 1], [0.25] * 3), ([5, 0, 2, 9], [0.25] * 4), ([1, 1, 0, 4, 2], [0.25] * 5)]


@pytest.mark.parametrize(("events", "limits"), list(GARWOOD.items()))
def test_garwood_table(events, limits):
    """Exact Poisson limits are those of Garwood 1936 (figures from R 4.2.2, poisson.test)."""
    assert garwood(events, 1.0) == pytest.approx(limits, abs=5.1e-5)


@pytest.mark.parametrize("events", [0, 1, 7, 100, 12345])
def test_garwood_against_statsmodels(events):
    """Exact Poisson limits per area equal those of statsmodels, confint_poisson(method="exact-c")."""
    assert garwood(events, 2.5) == pytest.approx(confint_poisson(events, 2.5, method="exact-c"), rel=1e-10)


def test_garwood_r_help_example():
    """137 events in an exposure of 24.19893 have the limits printed in R's help page of poisson.test."""
    assert garwood(137, 24.19893) == pytest.approx((4.753125, 6.692709), abs=5.1e-7)
    assert density([137], [24.19893]).value == pytest.approx(5.6614, abs=5e-5)


@pytest.mark.parametrize("events", [1, 4, 60])
def test_garwood_limits_leave_two_and_a_half_percent_on_each_side(events):
    """At each Garwood limit the observed count is just 2.5 % likely, his
    definition of 1936 (scipy's Poisson)."""
    low, high = garwood(events, 1.0)
    assert poisson.sf(events - 1, low) == pytest.approx(0.025)
    assert poisson.cdf(events, high) == pytest.approx(0.025)


@pytest.mark.parametrize(("events", "exposure"), [(-1, 1.0), (1, 0.0), (1, math.nan), (1, math.inf)])
def test_garwood_refuses_what_is_no_rate(events, exposure):
    """Garwood 1936 speaks of counts over a finite exposure; anything else is refused."""
    with pytest.raises(ValueError, match="no Poisson rate"):
        garwood(events, exposure)


@pytest.mark.parametrize(
    ("spray", "mean", "phi", "limits", "exact"),
    [
        ("C", 2.083333, 1.872727, (1.140618, 3.805199), (1.348223, 3.075411)),
        ("E", 3.5, 0.857143, (2.492145, 4.915445), (2.522492, 4.730983)),
        ("F", 16.666667, 2.316364, (13.151597, 21.121220), None),
    ],
)
def test_quasi_poisson_vectors(spray, mean, phi, limits, exact):
    """Quasi-Poisson log-t limits of InsectSprays are those of R 4.2.2, a dispersion under 1 counting as 1."""
    counts = INSECT_SPRAYS[spray]
    figure = density(counts, [1.0] * 12)
    assert pearson_x2(checked_frames(counts, [1.0] * len(counts))) / 11 == pytest.approx(phi, abs=5.1e-7)
    assert figure.value == pytest.approx(mean, abs=5.1e-7)
    assert (figure.low, figure.high) == pytest.approx(limits, abs=5.1e-7)
    assert (figure.n, figure.n_of, figure.unit, figure.cautions) == (12, "frames", "per m2", ())
    if exact:
        assert garwood(sum(counts), 12) == pytest.approx(exact, abs=5.1e-7)


def test_dispersion_of_all_six_sprays():
    """Pearson's X2 summed over six sprays gives the dispersion 1.507713
    of R's quasipoisson and statsmodels' X2."""
    ours = sum(pearson_x2(checked_frames(counts, [1.0] * len(counts))) for counts in INSECT_SPRAYS.values()) / 66
    counts = np.concatenate(list(INSECT_SPRAYS.values()))
    sprays = np.kron(np.eye(6), np.ones((12, 1)))
    fitted = sm.GLM(counts, sprays, family=sm.families.Poisson()).fit(scale="X2")
    assert ours == pytest.approx(1.507713, abs=5.1e-7)
    assert ours == pytest.approx(fitted.scale, rel=1e-10)


def test_unequal_frames_against_statsmodels():
    """For frames of different area the limits are those of statsmodels'
    GLM, Poisson, scale="X2", with an offset."""
    counts, areas = [4, 0, 9, 2, 31, 6], [0.25, 0.25, 1.0, 0.5, 2.0, 1.0]
    model = sm.GLM(counts, np.ones((6, 1)), family=sm.families.Poisson(), offset=np.log(areas))
    fitted = model.fit(scale="X2", tol=1e-14)
    assert fitted.scale > 1
    half = student.ppf(0.975, 5) * fitted.bse[0]
    figure = density(counts, areas)
    assert figure.value == pytest.approx(52 / 5, rel=1e-12)
    expected = (math.exp(fitted.params[0] - half), math.exp(fitted.params[0] + half))
    assert (figure.low, figure.high) == pytest.approx(expected, rel=1e-8)


def test_no_frame():
    """Without a counted frame there is no density, and the reason is said."""
    figure = density([], [])
    assert (figure.state, figure.value, figure.n) == ("not estimable", None, 0)
    assert figure.note == "no frame was counted"


def test_one_frame():
    """One frame has no spread of its own, so it gets Garwood's limits of 1936 and says what they assume."""
    figure = density([4], [0.25])
    assert (figure.value, figure.low, figure.high) == (16.0, *garwood(4, 0.25))
    assert figure.cautions == ("1 frame: too few to decide anything by", "one frame: Poisson spread assumed")


def test_one_empty_frame():
    """One empty frame gets Garwood's upper limit 3.6889, with the bound
    of the zero rule for k=0.5 beside it."""
    figure = density([0], [1.0])
    assert (figure.value, figure.low) == (0.0, 0.0)
    assert figure.high == pytest.approx(3.6889, abs=5e-5)
    assert figure.note == (
        "none found; fewer than 3.689 per m2 with 97.5 % confidence under Poisson spread, "
        "fewer than 799.5 per m2 with 97.5 % confidence under k=0.5"
    )


@pytest.mark.parametrize(("n", "cautions"), [(2, 1), (3, 1), (4, 0)])
def test_few_frames_carry_a_caution(n, cautions):
    """Up to three frames the figure says itself that its interval is of
    no use (own simulation: over 40 wide)."""
    for counts in ([2] * n, [0] * n):
        figure = density(counts, [1.0] * n)
        assert figure.cautions == (f"{n} frames: too few to decide anything by",) * cautions


@pytest.mark.parametrize("n", ZERO_RULE)
@pytest.mark.parametrize(("column", "k"), list(enumerate([0.25, 0.5, 1, 2, math.inf])))
def test_zero_rule_table(n, column, k):
    """Where all frames are empty the bound is k(0.025^(-1/nk) - 1) per
    frame, Garwood's 3.6889/n without clumping."""
    figure = density([0] * n, [1.0] * n, zero_k=k)
    assert (figure.value, figure.low) == (0.0, 0.0)
    assert figure.high == pytest.approx(ZERO_RULE[n][column], rel=3e-4)
    if k < math.inf:
        assert figure.high == pytest.approx(k * (0.025 ** (-1 / (n * k)) - 1), rel=1e-12)
        assert n * math.log(nbinom.pmf(0, k, k / (k + figure.high))) == pytest.approx(math.log(0.025))


def test_zero_rule_in_words():
    """An empty survey is told with its bound per m2, rounded up, never as
    0 +- 0 (figure of the table above)."""
    figure = density([0] * 5, [0.25] * 5)
    assert figure.high == pytest.approx(4 * 1.687, rel=3e-4)
    assert figure.note == "none found; fewer than 6.747 per m2 with 97.5 % confidence under k=0.5"
    assert figure.cautions == ()


@pytest.mark.parametrize("k", [0.25, 0.5, 2.0])
def test_zero_rule_for_unequal_frames(k):
    """For frames of different area the bound leaves 2.5 % for all of them
    to be empty (scipy's negative binomial)."""
    areas = [0.25, 0.25, 1.0, 4.0]
    bound = zero_bound(areas, 1 / k)
    chance = math.prod(nbinom.pmf(0, k, k / (k + bound * area)) for area in areas)
    assert chance == pytest.approx(0.025, rel=1e-9)
    assert bound > zero_bound([sum(areas) / 4] * 4, 1 / k)
    assert density([0] * 4, areas, zero_k=k).high == bound


def test_zero_rule_without_a_bound():
    """Where clumping is so strong that empty frames exclude nothing, no
    bound is given and the note says so."""
    figure = density([0, 0], [1.0, 1.0], zero_k=0.01)
    assert (figure.value, figure.low, figure.high) == (0.0, None, None)
    assert figure.note == "none found; no upper bound of use under k=0.01"


def test_pooled_dispersion_by_hand():
    """The common 1/k of three sites is sum(s2 - m) / sum(m^2 - s2/n), by
    hand (Bliss & Owen 1958, from memory)."""
    # site:     0 3 1              5 0 2 9           1 1 0 4 2
    # m, s2:    4/3, 7/3           4, 46/3           8/5, 23/10
    excess = Fraction(1) + Fraction(34, 3) + Fraction(7, 10)
    squares = Fraction(1) + (16 - Fraction(46, 12)) + (Fraction(64, 25) - Fraction(23, 50))
    pool = pooled_dispersion(POOL)
    assert pool == PooledDispersion(inv_k=float(excess / squares), df=9, sites=3)
    assert excess / squares == Fraction(391, 458)


def test_pooled_dispersion_against_a_slow_twin():
    """The pool of Bliss & Owen 1958 (from memory) is the same, site by site, with Python's own variance."""
    draw = random.Random(20261125)
    groups = [([draw.randrange(12) for _ in range(draw.randrange(2, 9))], []) for _ in range(8)]
    groups = [(counts, [1.0] * len(counts)) for counts, _ in groups]
    excess = squares = 0.0
    for counts, _ in groups:
        s2, m = statistics.variance(counts), statistics.mean(counts)
        excess += s2 - m
        squares += m * m - s2 / len(counts)
    pool = pooled_dispersion(groups)
    assert pool.inv_k == pytest.approx(excess / squares, rel=1e-12)
    assert (pool.df, pool.sites) == (sum(len(counts) - 1 for counts, _ in groups), 8)


def test_pooled_dispersion_finds_the_k_that_made_the_counts():
    """From 3,000 sites of 4 gamma-Poisson frames with k=2 (numpy, seeded)
    the pooled 1/k is within 0.05 of 0.5."""
    draw = np.random.default_rng(7)
    means = 4 * np.exp(0.7 * draw.standard_normal(3000))
    counts = draw.poisson(draw.gamma(2, np.repeat(means[:, None], 4, axis=1) / 2))
    pool = pooled_dispersion([(site.tolist(), [1.0] * 4) for site in counts])
    assert pool.inv_k == pytest.approx(0.5, abs=0.05)


def test_pooled_interval_by_hand():
    """With a pooled k the limits are m exp(+-t sqrt(1/Y + 1/(kn))) with the pool's df, by hand."""
    pool = pooled_dispersion(POOL)  # 1/k = 391/458, df = 9: see above
    figure = density([0, 3, 1], [0.25] * 3, pooled=pool)
    factor = math.exp(2.262157 * math.sqrt(1 / 4 + 391 / 458 / 3))  # t on 9 df: any printed table
    assert figure.value == pytest.approx(16 / 3)
    assert (figure.low, figure.high) == pytest.approx((16 / 3 / factor, 16 / 3 * factor), rel=1e-6)
    assert figure.note == "spread between frames from k=1.17 pooled over 3 sites"
    assert figure.cautions == ()


def test_pooled_interval_against_statsmodels():
    """The standard error under a known k is that of statsmodels' GLM, NegativeBinomial with that alpha."""
    counts, pool = [7, 0, 3, 12], PooledDispersion(inv_k=0.8, df=14, sites=5)
    family = sm.families.NegativeBinomial(alpha=0.8)
    fitted = sm.GLM(counts, np.ones((4, 1)), family=family).fit(tol=1e-14)
    half = student.ppf(0.975, 14) * fitted.bse[0]
    figure = density(counts, [1.0] * 4, pooled=pool)
    assert math.log(figure.high / figure.value) == pytest.approx(half, rel=1e-8)
    assert math.log(figure.value / figure.low) == pytest.approx(half, rel=1e-8)


def test_pooled_interval_for_unequal_frames():
    """For unequal areas 1/(kn) becomes sum(a^2) / (k A^2), the variance
    of a sum of negative binomials, by hand."""
    figure = density([1, 5], [1.0, 3.0], pooled=PooledDispersion(inv_k=0.5, df=10, sites=3))
    half = student.ppf(0.975, 10) * math.sqrt(1 / 6 + 0.5 * (1 + 9) / 16)
    assert math.log(figure.high / figure.value) == pytest.approx(half, rel=1e-12)


def test_pooled_zero_sample():
    """An empty survey with a pool uses the pooled k in the zero rule, and
    no clumping when the pool shows none."""
    clumped = density([0] * 3, [1.0] * 3, pooled=PooledDispersion(1.0, 9, 3))
    assert clumped.high == pytest.approx(2.420, rel=3e-4)
    assert clumped.note.endswith("under k=1 pooled over 3 sites")
    even = density([0] * 3, [1.0] * 3, pooled=PooledDispersion(0.0, 9, 3))
    assert even.high == pytest.approx(garwood(0, 3.0)[1], rel=1e-12)
    assert even.note.endswith("under Poisson spread pooled over 3 sites")


def test_a_pool_serves_one_frame():
    """With a pooled k even one frame has a known spread, so the negative-
    binomial limits replace Garwood's."""
    figure = density([4], [1.0], pooled=PooledDispersion(0.5, 9, 3))
    half = student.ppf(0.975, 9) * math.sqrt(1 / 4 + 0.5)
    assert math.log(figure.high / 4) == pytest.approx(half, rel=1e-12)


@pytest.mark.parametrize(
    "groups",
    [
        [],
        [([1, 2], [1.0] * 2), ([3, 4], [1.0] * 2)],
        [([1, 2], [1.0] * 2), ([3, 4], [1.0] * 2), ([5], [1.0])],
        [([0, 0], [1.0] * 2), ([0, 8], [1.0] * 2), ([0, 0], [1.0] * 2)],
    ],
)
def test_no_pool(groups):
    """Under three sites with two frames, or with no two filled frames at
    any site, there is no pool (own rule)."""
    assert pooled_dispersion(groups) is None


def test_a_site_with_one_frame_adds_nothing_to_the_pool():
    """One frame has no spread, so its site counts neither among the sites nor in the pool (own rule)."""
    assert pooled_dispersion([*POOL, ([40], [0.25]), ([], [])]) == pooled_dispersion(POOL)


def test_even_counts_pool_to_poisson():
    """Counts more even than Poisson pool to 1/k = 0, never below, as a variance must."""
    assert pooled_dispersion([([4, 5, 4], [1.0] * 3)] * 3).inv_k == 0.0


def test_a_pool_needs_equal_areas():
    """A k is per frame of one size, so frames of different areas are refused (own rule)."""
    with pytest.raises(ValueError, match="different areas"):
        pooled_dispersion([*POOL, ([1, 2], [1.0, 1.0])])


@pytest.mark.parametrize(("inv_k", "df", "sites"), [(-0.1, 9, 3), (math.nan, 9, 3), (math.inf, 9, 3), (1, 9, 2)])
def test_what_is_no_pool_is_refused(inv_k, df, sites):
    """A pool holds a finite 1/k of at least 0 from three sites or more (own rule)."""
    with pytest.raises(ValueError, match="not a usable pool"):
        PooledDispersion(inv_k, df, sites)


@pytest.mark.parametrize(
    ("counts", "areas", "said"),
    [
        ([1, 2], [1.0], "shorter"),
        ([-1, 2], [1.0, 1.0], "a count must lie"),
        ([2**53 + 1, 2], [1.0, 1.0], "a count must lie"),
        *[([1, 2], [area, 1.0], "the area of a frame must lie") for area in (0, -1, 1e-7, 1e10, math.nan, math.inf)],
    ],
)
def test_what_is_no_frame_is_refused(counts, areas, said):
    """A frame has a count of at least 0 and an area between 1 mm2 and 1000 km2; anything else is refused."""
    with pytest.raises(ValueError, match=said):
        density(counts, areas)


@pytest.mark.parametrize("count", [1.5, 2.0, None, "3"])
def test_a_count_is_whole(count):
    """What is not a whole number is no count, and an uncounted frame (None) is no zero."""
    with pytest.raises(TypeError):
        density([count], [1.0])


@pytest.mark.parametrize("zero_k", [0.0, -0.5, math.nan])
def test_the_k_of_empty_frames_is_positive(zero_k):
    """A negative binomial has k above zero, so any other is refused."""
    with pytest.raises(ValueError, match="above zero"):
        density([0, 0], [1.0, 1.0], zero_k=zero_k)


def test_an_interval_of_no_use_is_not_given():
    """All recruits in a tiny frame beside a huge empty one leave a
    density without limits, and the note says so."""
    figure = density([9, 0], [1e-3, 10.0])
    assert figure.value == pytest.approx(0.9, rel=1e-3)
    assert (figure.low, figure.high) == (None, None)
    assert figure.note == "no interval: its upper limit is too far out to mean anything"
