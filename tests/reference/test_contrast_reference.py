"""Treated against control, compared with published figures and outside programs.

InsectSprays (counts of insects per plot) comes with R; "R 4.2.2" and "statsmodels" name the program that made
a figure held here.
"""

import math
import statistics

import numpy as np
import pytest
import statsmodels.api as sm
from scipy.stats import norm, ttest_ind
from scipy.stats import t as student
from statsmodels.stats.proportion import confint_proportions_2indep, proportion_confint
from statsmodels.stats.rates import confint_poisson_2indep

from pipeline.indicators import contrast
from pipeline.indicators.contrast import Spread, difference, mover, ratio
from pipeline.indicators.density import PooledDispersion, density, garwood
from pipeline.indicators.estimate import Estimate
from pipeline.indicators.sample import checked_frames

SPRAY_C = [0, 1, 7, 2, 3, 1, 2, 1, 3, 0, 1, 4]
SPRAY_E = [3, 5, 3, 5, 3, 6, 1, 1, 3, 2, 6, 4]
SPRAY_F = [11, 9, 15, 22, 15, 16, 13, 10, 26, 26, 24, 13]
ONES = [1.0] * 12


def known(value: float, low: float, high: float) -> Estimate:
    return Estimate("estimated", "per m2", 1, "frames", "given", value=value, low=low, high=high)


def frames(counts: list[int], areas: list[float]) -> list[tuple[int, float]]:
    return list(zip(counts, areas, strict=True))


def log_ratio_spread(treated: list[tuple[int, float]], control: list[tuple[int, float]]) -> Spread:
    return contrast.log_ratio_spread(*(checked_frames(*zip(*arm, strict=True)) for arm in (treated, control)))


def fitted_log_ratio(treated, control):
    """statsmodels' GLM, Poisson, scale="X2", with areas as offset: the
    log ratio, its error and the dispersion."""
    counts, areas = np.array(treated + control).T
    design = np.column_stack([np.ones(len(counts)), [1] * len(treated) + [0] * len(control)])
    model = sm.GLM(counts, design, family=sm.families.Poisson(), offset=np.log(areas))
    fitted = model.fit(scale="X2", tol=1e-14)
    return fitted.params[1], fitted.bse[1], fitted.scale


def test_quasi_poisson_vector():
    """InsectSprays E over C: ratio 1.68, dispersion 1.364935, error
    .295120, limits .910968 to 3.098244 (R 4.2.2)."""
    spread = log_ratio_spread(frames(SPRAY_E, ONES), frames(SPRAY_C, ONES))
    se = math.sqrt(spread.quasi)
    half = student.ppf(0.975, spread.quasi_df) * se
    assert ratio(SPRAY_E, ONES, SPRAY_C, ONES).value == pytest.approx(1.68, rel=1e-12)
    assert (spread.phi, se, spread.quasi_df) == pytest.approx((1.364935, 0.295120, 22), abs=5.1e-7)
    assert (1.68 / math.exp(half), 1.68 * math.exp(half)) == pytest.approx((0.910968, 3.098244), abs=5.1e-7)


@pytest.mark.parametrize("areas", [(ONES, ONES), ([0.25] * 6 + [1.0] * 6, [0.5, 1.0, 2.0] * 4)])
def test_quasi_poisson_against_statsmodels(areas):
    """The shared-dispersion variance is that of statsmodels' GLM, Poisson,
    scale="X2", for equal and unequal areas."""
    treated, control = frames(SPRAY_F, areas[0]), frames(SPRAY_C, areas[1])
    log_ratio, se, scale = fitted_log_ratio(treated, control)
    spread = log_ratio_spread(treated, control)
    assert (spread.phi, math.sqrt(spread.quasi)) == pytest.approx((scale, se), rel=1e-8)
    assert math.log(ratio(SPRAY_F, areas[0], SPRAY_C, areas[1]).value) == pytest.approx(log_ratio, rel=1e-8)


def test_without_clumping_it_is_the_wald_log_interval():
    """60/51477.5 over 30/54308.7 has statsmodels' wald-log limits
    1.361280 to 3.270517 when the dispersion is 1."""
    spread = log_ratio_spread([(30, 51477.5 / 2)] * 2, [(15, 54308.7 / 2)] * 2)
    half = norm.ppf(0.975) * math.sqrt(spread.quasi)
    value = ratio([30] * 2, [51477.5 / 2] * 2, [15] * 2, [54308.7 / 2] * 2).value
    assert spread.phi == 1.0
    assert value == pytest.approx(2.109998, abs=5.1e-7)
    assert (value / math.exp(half), value * math.exp(half)) == pytest.approx((1.361280, 3.270517), abs=5.1e-7)
    outside = confint_poisson_2indep(60, 51477.5, 30, 54308.7, method="wald-log", compare="ratio")
    assert (value / math.exp(half), value * math.exp(half)) == pytest.approx(outside, rel=1e-10)


def test_welch_variance_and_degrees_of_freedom():
    """The separate variances have Satterthwaite's df, as scipy's Welch
    test finds for counts over their mean."""
    mean_f, mean_c = statistics.mean(SPRAY_F), statistics.mean(SPRAY_C)
    outside = ttest_ind(np.divide(SPRAY_F, mean_f), np.divide(SPRAY_C, mean_c), equal_var=False)
    spread = log_ratio_spread(frames(SPRAY_F, ONES), frames(SPRAY_C, ONES))
    by_hand = sum(statistics.variance(y) / 12 / statistics.mean(y) ** 2 for y in (SPRAY_F, SPRAY_C))
    assert spread.welch == pytest.approx(by_hand, rel=1e-12)
    assert spread.welch_df == pytest.approx(outside.df, rel=1e-12)


def test_welch_variance_is_never_below_poisson():
    """An arm more even than Poisson, as InsectSprays E, counts with
    variance m, not s2 (own rule, by hand)."""
    spread = log_ratio_spread(frames(SPRAY_E, ONES), frames(SPRAY_C, ONES))
    by_hand = 1 / sum(SPRAY_E) + statistics.variance(SPRAY_C) / 12 / statistics.mean(SPRAY_C) ** 2
    assert spread.welch == pytest.approx(by_hand, rel=1e-12)


def test_welch_variance_for_unequal_frames():
    """For unequal areas the spread is about density times area, Cochran's
    1977 ratio of totals, here by hand."""
    spread = log_ratio_spread([(1, 1.0), (9, 3.0)], [(8, 1.0), (4, 1.0)])
    # treated: 10 recruits on 4 m2, r = 2.5; residuals -1.5 and 1.5; 2/1 * 4.5 / 10^2 = .09 < 1/10
    # control: 12 on 2 m2; residuals 2 and -2; 2/1 * 8 / 12^2 = 1/9 > 1/12
    assert spread.welch == pytest.approx(1 / 10 + 1 / 9, rel=1e-12)


@pytest.mark.parametrize(
    ("treated", "control", "wider"),
    [
        (SPRAY_E, SPRAY_C, "welch"),
        ([9, 11, 10, 8, 12], [0, 1, 1, 0, 2, 1], "quasi"),
        ([3, 40, 2], [9, 10], "quasi"),
    ],
)
def test_the_wider_variance_and_the_smaller_df_are_used(treated, control, wider):
    """The limits take the larger of both variances and the smaller of both
    df (own rule; simulated coverage .958+)."""
    ours = ratio(treated, [1.0] * len(treated), control, [1.0] * len(control))
    spread = log_ratio_spread([(c, 1.0) for c in treated], [(c, 1.0) for c in control])
    variance = max(spread.quasi, spread.welch)
    assert variance == getattr(spread, wider)
    half = student.ppf(0.975, min(spread.quasi_df, spread.welch_df)) * math.sqrt(variance)
    assert (ours.low, ours.high) == pytest.approx((ours.value / math.exp(half), ours.value * math.exp(half)))
    assert spread.welch_df < spread.quasi_df


def test_ratio_says_what_it_is():
    """A ratio counts the frames of both arms, names its unit, and is
    cautious about arms of three frames or fewer."""
    figure = ratio(SPRAY_E, ONES, [2, 3, 4], [1.0] * 3)
    assert (figure.unit, figure.n, figure.n_of) == ("times control", 15, "frames")
    assert figure.note == "12 treated and 3 control frames"
    assert figure.cautions == ("3 control frames: too few to decide anything by",)


def test_an_empty_arm_counts_as_half_a_recruit():
    """A zero total is taken as 0.5, the usual correction of log ratios,
    and the figure says so; checked by hand."""
    figure = ratio([3, 5, 4, 4], [1.0] * 4, [0, 0, 0, 0], [2.0] * 4)
    assert figure.value == pytest.approx((16 / 4) / (0.5 / 8))
    spread = log_ratio_spread([(c, 1.0) for c in (3, 5, 4, 4)], [(0, 2.0)] * 4)
    assert (spread.quasi, spread.welch) == pytest.approx((1 / 16 + 2, 1 / 16 + 2))
    assert figure.cautions == ("nothing was found in the control frames: half a recruit was added to their total",)
    turned = ratio([0, 0, 0, 0], [2.0] * 4, [3, 5, 4, 4], [1.0] * 4)
    assert (turned.value, turned.low) == pytest.approx((1 / figure.value, 1 / figure.high))
    assert turned.cautions == ("nothing was found in the treated frames: half a recruit was added to their total",)


@pytest.mark.parametrize(
    ("treated", "control", "why"),
    [
        ([0, 0], [0, 0, 0], "nothing was found in either arm"),
        ([5], [1, 2], "only 1 treated frame: each arm needs at least two"),
        ([5, 6], [], "only no control frames: each arm needs at least two"),
        ([], [3], "only no treated frames and 1 control frame: each arm needs at least two"),
    ],
)
def test_what_gives_no_ratio(treated, control, why):
    """Two empty arms, or an arm without two frames, give a stated reason and no ratio (own rule)."""
    figure = ratio(treated, [1.0] * len(treated), control, [1.0] * len(control))
    assert (figure.state, figure.value, figure.low, figure.note) == ("not estimable", None, None, why)
    assert figure.n == len(treated) + len(control)


def test_a_ratio_of_no_use_has_no_limits():
    """An arm with all recruits in one tiny frame leaves a ratio without limits, and the note says so."""
    figure = ratio([9, 0], [1e-3, 10.0], [3, 4], [1.0, 1.0])
    assert (figure.low, figure.high) == (None, None)
    assert figure.note.startswith("2 treated and 2 control frames; no interval")


def test_mover_on_newcombes_proportions():
    """56/70 less 48/80 with Wilson limits gives .0524 to .3339, as Newcombe printed in 1998 (from memory)."""
    one, other = proportion_confint(56, 70, method="wilson"), proportion_confint(48, 80, method="wilson")
    limits = mover(known(56 / 70, *one), known(48 / 80, *other))
    assert limits == pytest.approx((0.0524, 0.3339), abs=5.1e-5)
    outside = confint_proportions_2indep(56, 70, 48, 80, compare="diff", method="newcomb")
    assert limits == pytest.approx(outside, rel=1e-10)


@pytest.mark.parametrize(("y1", "t1", "y0", "t0"), [(60, 51477.5, 30, 54308.7), (7, 2.0, 0, 3.0), (2, 3.0, 11, 4.0)])
def test_mover_against_statsmodels(y1, t1, y0, t0):
    """Two Poisson rates with Garwood limits differ as statsmodels' MOVER says (Zou & Donner 2008)."""
    limits = mover(known(y1 / t1, *garwood(y1, t1)), known(y0 / t0, *garwood(y0, t0)))
    outside = confint_poisson_2indep(y1, t1, y0, t0, method="mover", compare="diff", method_mover="exact-c")
    assert limits == pytest.approx(outside, rel=1e-9)


def test_difference_combines_the_limits_of_both_densities():
    """E less C keeps each spray's own lopsided limits of R 4.2.2, squared
    and added (Zou & Donner 2008), by hand."""
    figure = difference(SPRAY_E, ONES, SPRAY_C, ONES)
    down = math.hypot(3.5 - 2.492145, 3.805199 - 2.083333)
    up = math.hypot(4.915445 - 3.5, 2.083333 - 1.140618)
    assert figure.value == pytest.approx(3.5 - 25 / 12, rel=1e-12)
    assert (figure.low, figure.high) == pytest.approx((figure.value - down, figure.value + up), abs=2e-6)
    assert (figure.unit, figure.n, figure.n_of) == ("per m2", 24, "frames")
    assert (figure.note, figure.cautions) == ("12 treated and 12 control frames", ())


def test_difference_from_an_empty_control():
    """An empty control counts with its upper bound: at n=5, k=.5 it is
    1.687 (zero rule), never as a sure zero."""
    treated = [3, 5, 2, 6, 4]
    figure, arm = difference(treated, [1.0] * 5, [0] * 5, [1.0] * 5), density(treated, [1.0] * 5)
    assert figure.low == pytest.approx(4 - math.hypot(4 - arm.low, 1.687), abs=5e-4)
    assert figure.high == pytest.approx(arm.high, rel=1e-12)
    assert "control: none found; fewer than 1.687 per m2" in figure.note


def test_difference_of_two_empty_arms():
    """Two empty arms differ by 0, within the zero-rule bound of each: -1.687 to 1.687 at n=5 and k=.5."""
    figure = difference([0] * 5, [1.0] * 5, [0] * 5, [1.0] * 5)
    assert (figure.value, figure.low, figure.high) == pytest.approx((0.0, -1.687, 1.687), abs=5e-4)


def test_difference_hands_on_pools_and_zero_k():
    """Pools and k given for the arms are those of their densities (MOVER, Zou & Donner 2008)."""
    pool, other = PooledDispersion(0.5, 12, 4), PooledDispersion(0.2, 9, 3)
    figure = difference([4, 6], [1.0] * 2, [1, 2], [1.0] * 2, treated_pooled=pool, control_pooled=other)
    arms = density([4, 6], [1.0] * 2, pooled=pool), density([1, 2], [1.0] * 2, pooled=other)
    assert (figure.low, figure.high) == mover(*arms)
    assert figure.cautions == ()
    assert "treated: spread between frames from k=2 pooled over 4 sites" in figure.note
    loose, tight = (difference([0, 0], [1.0] * 2, [1, 2], [1.0] * 2, zero_k=k) for k in (0.5, 2.0))
    assert loose.high > tight.high
    assert loose.cautions == (
        "2 control frames: too few to decide anything by",
        "2 treated frames: too few to decide anything by",
    )


def test_difference_needs_two_frames_in_each_arm():
    """An arm without two frames has no spread of its own, so no difference is given (own rule)."""
    figure = difference([5], [1.0], [1, 2], [1.0] * 2)
    assert (figure.state, figure.value) == ("not estimable", None)
    assert figure.note == "only 1 treated frame: each arm needs at least two"


def test_difference_without_limits():
    """When an arm has no limits of use, neither has the difference, and the arm's note is carried over."""
    figure = difference([9, 0], [1e-3, 10.0], [3, 4], [1.0, 1.0])
    assert figure.value == pytest.approx(9 / 10.001 - 3.5)
    assert (figure.low, figure.high) == (None, None)
    assert "treated: no interval" in figure.note
    assert mover(density([3, 4], [1.0] * 2), density([9, 0], [1e-3, 10.0])) is None
