"""Survival, cover and lengths, compared with published figures, slow twins and cases worked by hand.

"Own run" marks figures made with numpy and scipy from the formulas of Cochran 1977 when the statistics were researched,
before these functions were written.
"""

import math
from itertools import product

import numpy as np
import pytest
import statsmodels.api as sm
import statsmodels.datasets.nile
from scipy.stats import beta, binom, norm
from scipy.stats import t as student

from pipeline.indicators.contrast import ratio
from pipeline.indicators.cover import cover
from pipeline.indicators.lengths import mean_length, median_length
from pipeline.indicators.survival import by_densities, in_same_frames
from pipeline.indicators.totals import careful, ratio_and_error

COSTS = [4200, 3100, 5600, 2500, 3900, 7400, 2900, 4600]
HECTARES = [0.05, 0.03, 0.08, 0.02, 0.04, 0.10, 0.03, 0.05]
E = [3, 5, 3, 5, 3, 6, 1, 1, 3, 2, 6, 4]  # InsectSprays (R datasets), sprays E and C
C = [0, 1, 7, 2, 3, 1, 2, 1, 3, 0, 1, 4]


def test_ratio_of_totals():
    """Eight clusters give 85500 with error 5493.05, and 73449.5 to 99527.5 on the log scale (Cochran 1977, own run)."""
    value, se = ratio_and_error(list(zip(HECTARES, COSTS, strict=True)))
    assert (value, se) == (pytest.approx(85500), pytest.approx(5493.05, abs=0.0051))
    half = student.ppf(0.975, 7) * se / value
    assert (value * math.exp(-half), value * math.exp(half)) == pytest.approx((73449.5, 99527.5), abs=0.051)


def jackknife(clusters):
    """Slow twin: every cluster left out in turn; spread of the ratios about that of all."""
    x, y = np.asarray(clusters, float).T
    without = (y.sum() - y) / (x.sum() - x)
    return math.sqrt((len(x) - 1) / len(x) * np.sum((without - y.sum() / x.sum()) ** 2))


def test_careful_is_the_jackknife():
    """The careful error is that of leaving each cluster out; clusters of one size keep n - 1 degrees of freedom."""
    told = list(zip(HECTARES, COSTS, strict=True))
    value, se, df = careful(told)
    assert (value, se) == (pytest.approx(85500), pytest.approx(jackknife(told)))
    assert se > ratio_and_error(told)[1]
    assert df == pytest.approx(0.4**2 / 0.0252 - 1)  # (sum ha)^2 / sum ha^2 - 1
    assert careful([(2.0, 1.0), (2.0, 2.0), (2.0, 0.0)])[2] == pytest.approx(2)


def test_survival_by_densities_is_the_ratio_of_densities():
    """Frames laid anew: E over C of InsectSprays gives 1.68 with the interval that the ratio against a control has."""
    areas = [1.0] * 12
    mine, other = by_densities(C, areas, E, areas), ratio(E, areas, C, areas)
    assert mine.value == pytest.approx(1.68)
    assert (mine.low, mine.high) == (other.low, other.high)
    assert mine.low <= 0.910968
    assert mine.high >= 3.098244 / 1.0000001  # quasi-Poisson limits (R glm, own run)


def test_all_of_a_frame_may_share_one_fate():
    """None of m frames' plants left: at most 1 - 0.025^(1/m) lived, the exact binomial bound on frames (Clopper & Pearson 1934)."""
    for m in (2, 5, 20):
        told = in_same_frames([(3, 0)] * m + [(0, 0)])
        assert (told.value, told.low) == (0.0, 0.0)
        assert binom.cdf(0, m, told.high) == pytest.approx(0.025)
        kept = in_same_frames([(3, 3)] * m)
        assert (kept.value, kept.high) == (1.0, 1.0)
        assert kept.low == pytest.approx(1 - told.high)


def test_independent_plants_are_the_least_spread():
    """Frames that lost exactly half each are no surer than as many independent plants (binomial)."""
    told = in_same_frames([(4, 2)] * 6)
    se = math.sqrt(0.25 / 24) / 0.5
    assert told.high == pytest.approx(0.5 * math.exp(student.ppf(0.975, 5) * se))


def test_empty_frames_make_nothing_surer():
    """Twenty frames without a plant at either survey leave the degrees of freedom to the three with plants."""
    pairs = [(8, 8), (2, 0), (6, 0)]
    bare = [(0, 0)] * 20
    _, se, df = careful(pairs + bare)
    assert df == pytest.approx(16**2 / 104 - 1)
    told = in_same_frames(pairs + bare)
    assert told.high == pytest.approx(0.5 * math.exp(student.ppf(0.975, df) * se / 0.5))


def test_mean_length_of_single_plants():
    """One plant a frame is the usual mean: the Nile's 100 flows, mean 919.35, sd 169.227501 (statsmodels)."""
    flows = statsmodels.datasets.nile.load_pandas().data["volume"].tolist()
    told = mean_length([[flow] for flow in flows])
    assert told.value == pytest.approx(919.35)
    half = student.ppf(0.975, 99) * 169.227501 / 10 / 919.35
    assert (told.low, told.high) == pytest.approx((919.35 * math.exp(-half), 919.35 * math.exp(half)), rel=1e-8)


def test_error_of_clusters():
    """Linearised over clusters it is the standard error of a regression robust to clusters (statsmodels), up to its df."""
    rng = np.random.default_rng(3)
    frames = [list(20 + 5 * rng.normal() + rng.uniform(0, 10, rng.integers(1, 6))) for _ in range(12)]
    groups = np.repeat(range(12), [len(f) for f in frames])
    y = np.concatenate(frames)
    fit = sm.OLS(y, np.ones_like(y)).fit(cov_type="cluster", cov_kwds={"groups": groups, "use_correction": False})
    clusters = [(len(f), math.fsum(f)) for f in frames]
    value, se = ratio_and_error(clusters)
    assert (value, se) == (pytest.approx(fit.params[0]), pytest.approx(fit.bse[0] * math.sqrt(12 / 11)))
    told = mean_length(frames)
    _, error, df = careful(clusters)
    assert math.log(told.high / told.value) == pytest.approx(student.ppf(0.975, df) * error / value)


def test_woodruff_of_single_plants():
    """One plant a frame: the median of 1 to 101 is 51, its limits the ranks that lie t standard errors of a half off."""
    told = median_length([[float(n)] for n in range(1, 102)])
    half = student.ppf(0.975, 100) * 0.5 / math.sqrt(101)
    # the share up to the middle plant is 51 of 101, so the linearised error is a little above that of a half
    assert told.value == 51
    assert (told.low, told.high) == pytest.approx((101 * (0.5 - half), 101 * (0.5 + half)), abs=1.0)


def test_woodruff_of_clusters():
    """Three frames alike of ten plants: t on 2 degrees of freedom times 0.5 / sqrt(30) is 0.3928 on either side of a half."""
    told = median_length([[float(n) for n in range(1, 11)]] * 3)
    every = sorted(float(n) for n in range(1, 11) for _ in range(3))
    half = student.ppf(0.975, 2) * 0.5 / math.sqrt(30)
    assert (told.value, told.low, told.high) == (5.5, every[int(30 * (0.5 - half))], every[int(30 * (0.5 + half))])
    assert (told.low, told.high) == (2.0, 9.0)


def test_limits_of_the_median_hold_it():
    """Drawn from a normal law, 15 frames of unlike means, the median's 95 % limits hold the truth in 90 to 99 of 100 cases."""
    rng, held = np.random.default_rng(11), 0
    for _ in range(400):
        frames = [
            list(norm.rvs(40 + 4 * rng.normal(), 8, size=rng.integers(1, 8), random_state=rng)) for _ in range(15)
        ]
        told = median_length([[max(x, 0.1) for x in f] for f in frames])
        held += told.low <= 40 <= told.high
    assert 0.90 <= held / 400 <= 0.99


def test_cover_by_hand():
    """Covers of 10, 20, 30 and 40 %: mean 0.25, se 0.0645497, t(3) 3.18245 on the logit: 0.1040 to 0.4891."""
    told = cover([(0.1, None), (0.2, None), (0.3, None), (0.4, None)])
    assert told.value == pytest.approx(0.25)
    half = 3.182446 * 0.0645497 / 0.1875  # one whole frame's worth in four: enough to see how they differ
    logits = [math.log(1 / 3) - half, math.log(1 / 3) + half]
    assert (told.low, told.high) == pytest.approx(tuple(1 / (1 + math.exp(-x)) for x in logits), rel=1e-5)


def test_points_of_one_frame_are_no_samples():
    """Of frames with 20 points each, all hit or none, the spread is that of the frames; of even ones that of independent points."""
    rough, even = cover([(20, 20)] * 3 + [(0, 20)] * 3), cover([(10, 20)] * 6)
    assert rough.value == even.value == 0.5
    half = student.ppf(0.975, 5) * math.sqrt(0.3 / 6) / 0.25  # sd of six 0 or 1, with n - 1: 0.3
    assert rough.high == pytest.approx(1 / (1 + math.exp(-half)))
    half = student.ppf(0.975, 5) * math.sqrt(0.25 / 120) / 0.25
    assert even.high == pytest.approx(1 / (1 + math.exp(-half)))


def test_bare_frames_bound_cover_however_it_lies():
    """No law of cover with a mean above the bound leaves n frames bare more often than 2.5 %: tried for laws of three values."""
    for n in (3, 8):
        bound = cover([(0.0, None)] * n).high
        assert (1 - bound) ** n == pytest.approx(0.025)
        for bare, half in product(np.linspace(0, 1, 21), np.linspace(0, 1, 21)):
            if bare + half <= 1 and half / 2 + (1 - bare - half) > bound:
                assert bare**n <= 0.025 + 1e-12


def test_little_cover_is_as_if_bare_or_full():
    """With less than a whole frame of cover in all, limits reach those of one frame in ten being full (Clopper & Pearson)."""
    told = cover([(0.05, None)] * 4 + [(0.15, None)] * 4 + [(0.0, None)] * 2)
    assert told.value == pytest.approx(0.08)
    assert binom.cdf(0, 10, told.high) < 0.025 < binom.cdf(1, 10, told.high)
    assert told.high == pytest.approx(beta.ppf(0.975, 1.8, 9.2))
    assert told.low == pytest.approx(beta.ppf(0.025, 0.8, 10.2))
    full = cover([(1 - share, None) for share in [0.05] * 4 + [0.15] * 4 + [0.0] * 2])
    assert (1 - full.high, 1 - full.low) == (pytest.approx(told.low), pytest.approx(told.high))


@pytest.mark.parametrize(("mean", "frames"), [(0.05, 6), (0.05, 20), (0.2, 10), (0.5, 6)])
def test_limits_of_cover_hold_it(mean, frames):
    """Frames of very patchy cover (a beta law, variance a third of the greatest): limits hold the mean in 92 of 100 cases or more."""
    rng, held = np.random.default_rng(5), 0
    for _ in range(500):
        told = cover([(x, None) for x in rng.beta(2 * mean, 2 * (1 - mean), size=frames)])
        held += told.low <= mean <= told.high
    assert held / 500 >= 0.92


@pytest.mark.parametrize(("there", "frames"), [(8, 6), (8, 12), (2, 12)])
def test_limits_of_survival_hold_it(there, frames):
    """Clumped plants (k 0.5) whose frames share much of their fate (correlation 0.3): limits hold 0.6 in 92 of 100 cases or more."""
    rng, held, given = np.random.default_rng(7), 0, 0
    for _ in range(400):
        plants = rng.poisson(there * rng.gamma(0.5, 2, frames))
        left = rng.binomial(plants, rng.beta(0.6 * 7 / 3, 0.4 * 7 / 3, frames))
        told = in_same_frames(list(zip(plants.tolist(), left.tolist(), strict=True)))
        if told.low is not None:
            given, held = given + 1, held + (told.low <= 0.6 <= told.high)
    assert held / given >= 0.92


@pytest.mark.parametrize(
    ("told", "state", "why"),
    [
        (in_same_frames([(0, 0), (0, 2)]), "not estimable", "no plant was there at the first survey"),
        (in_same_frames([(3, 1), (0, 0)]), "estimated", "no interval: all plants were in one frame"),
        (in_same_frames([(1, 2), (2, 4)]), "estimated", "no interval: all frames changed alike"),
        (by_densities([0, 0], [1, 1], [1, 2], [1, 1]), "not estimable", "no plant was there at the first survey"),
        (by_densities([1, 2], [1, 1], [1], [1]), "not estimable", "only 1 second frame"),
        (cover([]), "not estimable", "of no frame the cover is known"),
        (cover([(0.3, None)]), "estimated", "one frame: no interval"),
        (cover([(0.3, None)] * 4), "estimated", "no interval: all frames have the very same cover"),
        (mean_length([]), "not estimable", "no plant was measured"),
        (mean_length([[10.0, 12.0]]), "estimated", "no interval: too few frames"),
        (median_length([]), "not estimable", "no plant was measured"),
        (median_length([[10.0], [12.0], [13.0]]), "estimated", "no interval: too few frames"),
    ],
)
def test_thin_data(told, state, why):
    """Thin data give a stated refusal, or a value without an interval and the reason; never 0 to 0."""
    assert (told.state, told.low, told.high) == (state, None, None)
    assert why in told.note


def test_nothing_left_is_bounded():
    """No survivor in frames laid anew has an upper limit made with half a plant, and the value stays 0."""
    told = by_densities([4, 5, 3, 4], [0.25] * 4, [0, 0, 0, 0], [0.25] * 4)
    assert (told.value, told.low) == (0.0, 0.0)
    assert told.high > 0


def test_what_is_no_number_is_refused():
    """A cover beyond a frame, a plant of no length and fewer plants than none raise."""
    for wrong in (
        lambda: cover([(1.2, None), (0.1, None)]),
        lambda: mean_length([[0.0]]),
        lambda: in_same_frames([(-1, 0)]),
    ):
        with pytest.raises(ValueError, match=r"must|cannot|lies"):
            wrong()
