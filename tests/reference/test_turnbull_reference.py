"""Retention against published figures and outside programs.

"R npsurv", "R survival" and "lifelines" name the program that made a figure held here; where lifelines can be
asked again, the test asks it. "Own EM" marks figures from a plain EM written and run before this code.
"""

import itertools
import math

import numpy as np
import pytest
from lifelines import KaplanMeierFitter
from lifelines.datasets import load_leukemia, load_mice
from scipy.optimize import brentq
from scipy.special import expit, logit
from scipy.stats import t as student

from pipeline.indicators.retention import retention_over_sites, site_retention
from pipeline.indicators.turnbull import Turnbull, fit, likelihood_limits

INF = math.inf


def intervals(closed: str, right: str = "") -> list[tuple[float, float, int]]:
    """ "0-5 17-25x2" and right-censored "15 24x2" as (L, R, units)."""
    rows = []
    for word in closed.split():
        span, _, units = word.partition("x")
        left, _, end = span.partition("-")
        rows.append((float(left), float(end), int(units or 1)))
    for word in right.split():
        left, _, units = word.partition("x")
        rows.append((float(left), INF, int(units or 1)))
    return rows


# Breast cosmesis, months (Finkelstein & Wolfe 1985, Biometrics 41:933), the 94 rows of CRAN interval::bcos.
# Two other versions circulate, with other masses.
RAD = intervals(
    "0-5 0-7 0-8 4-11 5-11 5-12 6-10 7-14 7-16 11-15 11-18 17-25x2 19-26 19-35 25-37 26-40 27-34 36-44 36-48 37-44",
    "15 17 18 22 24x2 32 33 34 36x2 37x3 38 40 45 46x8",
)
RADCHEM = intervals(
    "0-5 0-22 4-8 4-9 5-8 8-12 8-21 10-17 10-35 11-13 11-17 11-20 12-20 13-39 14-17 14-19 15-22 16-20 "
    "16-24x2 16-60 17-23 17-26 17-27 18-24 18-25 19-32 22-32 24-30 24-31 30-34 30-36 33-40 35-39 44-48",
    "11x2 13x3 21 23 31 32 34x2 35 48",
)
RAD_MASSES = {
    (4, 5): 0.046347,
    (6, 7): 0.033363,
    (7, 8): 0.088667,
    (11, 12): 0.070753,
    (24, 25): 0.092646,
    (33, 34): 0.081786,
    (38, 40): 0.120880,
    (46, 48): 0.465558,
}
RADCHEM_MASSES = {
    (4, 5): 0.043283,
    (5, 8): 0.043283,
    (11, 12): 0.069206,
    (16, 17): 0.145398,
    (18, 19): 0.141095,
    (19, 20): 0.115746,
    (24, 25): 0.099865,
    (30, 31): 0.070881,
    (35, 36): 0.160831,
    (44, 48): 0.055206,
    (48, 60): 0.055206,
}
ARMS = {"RAD": (RAD, RAD_MASSES, -58.060022), "RADCHEM": (RADCHEM, RADCHEM_MASSES, -65.636965)}
# aml (Miller 1997, in R survival), weeks of remission: "t" ended in that week, "t+" still going on.
AML = {
    "maintained": (
        "9 13 13+ 18 23 28+ 31 34 45+ 48 161+",
        {9: 0.909091, 13: 0.818182, 18: 0.715909, 23: 0.613636, 31: 0.490909, 34: 0.368182, 48: 0.184091},
    ),
    "nonmaintained": (
        "5 5 8 8 12 16+ 23 27 30 33 43 45",
        {
            5: 0.833333,
            8: 0.666667,
            12: 0.583333,
            23: 0.486111,
            27: 0.388889,
            30: 0.291667,
            33: 0.194444,
            43: 0.097222,
            45: 0.0,
        },
    ),
}


def fitted(rows: list[tuple[float, float, int]]) -> Turnbull:
    return fit(*zip(*rows, strict=True))


def masses(curve: Turnbull) -> dict[tuple[float, float], float]:
    return dict(zip(zip(curve.q, curve.p, strict=True), curve.mass, strict=True))


def survival(curve: Turnbull, day: float) -> float:
    known, possible = curve.survival_bounds(day)
    assert known == possible
    return known


def turnbull_intervals(rows: list[tuple[float, float, int]]) -> list[tuple[float, float]]:
    """Every left end that a right end follows before another left one; right ends first at ties."""
    ends = sorted({(r, 0) for _, r, _ in rows} | {(left, 1) for left, _, _ in rows})
    return [(a, b) for (a, is_left), (b, also) in itertools.pairwise(ends) if is_left and not also]


def test_hard_example_loses_its_middle_mass():
    """(0,2] (1,3] (2,4] (3,inf) has masses 0.5, 0, 0.5, log-likelihood 4 ln 0.5 (by hand; EM stops short)."""
    curve = fitted(intervals("0-2 1-3 2-4", "3"))
    assert masses(curve) == {(1, 2): pytest.approx(0.5, abs=1e-12), (3, 4): pytest.approx(0.5, abs=1e-12)}
    assert curve.loglik == pytest.approx(4 * math.log(0.5), abs=1e-12)


@pytest.mark.parametrize("arm", ARMS)
def test_breast_cosmesis_masses(arm):
    """Both arms have the masses of Fay & Shaw 2010, J. Stat. Softw. 36(2), further decimals from R npsurv."""
    rows, expected, loglik = ARMS[arm]
    curve = fitted(rows)
    assert masses(curve) == pytest.approx(expected, abs=6e-7)
    assert curve.loglik == pytest.approx(loglik, abs=6e-7)
    assert curve.n == {"RAD": 46, "RADCHEM": 48}[arm]


def test_breast_cosmesis_pooled():
    """The log-likelihood of both arms under one curve is -136.963804 (R npsurv and own EM)."""
    assert fitted(RAD + RADCHEM).loglik == pytest.approx(-136.963804, abs=6e-7)


def test_breast_cosmesis_survival():
    """S(24) .7609, S(40) .4656 in RAD, S(20) .4420, S(30) .3421 in RADCHEM, by masses of Fay & Shaw 2010."""
    rad, radchem = fitted(RAD), fitted(RADCHEM)
    assert survival(rad, 24) == pytest.approx(0.7609, abs=5e-5)
    assert survival(rad, 40) == pytest.approx(0.4656, abs=5e-5)
    assert survival(radchem, 20) == pytest.approx(0.4420, abs=5e-5)
    assert survival(radchem, 30) == pytest.approx(0.3421, abs=5e-5)


def test_breast_cosmesis_turnbull_intervals():
    """All masses lie on the 14 and 19 Turnbull intervals (Turnbull 1976), some of which end with none."""
    for rows, expected, number in ((RAD, RAD_MASSES, 14), (RADCHEM, RADCHEM_MASSES, 19)):
        places = turnbull_intervals(rows)
        assert len(places) == number
        assert set(masses(fitted(rows))) == set(expected) <= set(places)


def test_inside_a_turnbull_interval_only_bounds_are_known():
    """Within (38,40] S of RAD is between S(40) and S(38), by Turnbull 1976 with the published masses."""
    known, possible = fitted(RAD).survival_bounds(39)
    assert known == pytest.approx(0.465558, abs=1e-6)
    assert possible == pytest.approx(0.465558 + 0.120880, abs=1e-6)


def test_lifelines_agrees_once_its_closed_intervals_are_opened():
    """lifelines with L + 1e-6 gives our curve; called plainly it takes [L, R] and gives 0.9507 and 0.5085."""
    left, right, units = (np.array(column) for column in zip(*RAD, strict=True))
    left, right = np.repeat(left, units), np.repeat(right, units)
    opened = KaplanMeierFitter().fit_interval_censoring(left + 1e-6, right, tol=1e-9).survival_function_
    closed = KaplanMeierFitter().fit_interval_censoring(left, right, tol=1e-9).survival_function_
    ours = fitted(RAD)
    for day in (5, 6, 7, 8, 11, 12, 24, 25, 33, 34, 37, 40, 46, 48):
        assert opened["NPMLE_estimate_lower"].asof(day) == pytest.approx(survival(ours, day), abs=2e-5)
    assert closed["NPMLE_estimate_lower"].asof(6) == pytest.approx(0.9507, abs=5e-5)
    assert closed["NPMLE_estimate_lower"].asof(40) == pytest.approx(0.5085, abs=5e-5)
    assert survival(ours, 40) == pytest.approx(0.4656, abs=5e-5)


def exact(times: list[float], lost: list[bool]) -> list[tuple[float, float, int]]:
    return [(t, t if gone else INF, 1) for t, gone in zip(times, lost, strict=True)]


def km_of_lifelines(times: list[float], lost: list[bool]) -> dict[float, float]:
    curve = KaplanMeierFitter().fit(times, lost).survival_function_["KM_estimate"]
    return {float(day): float(s) for day, s in curve.items()}


def leukaemia() -> tuple[list[float], list[bool]]:
    table = load_leukemia()
    arm = table[table["Rx"] == 0]
    return arm["t"].astype(float).tolist(), (arm["status"] == 1).tolist()


def test_witnessed_losses_give_kaplan_meier_on_leukaemia():
    """Losses coded L = R give the Kaplan-Meier curve of the 6-MP arm (Freireich 1963) in lifelines."""
    times, lost = leukaemia()
    assert (len(times), sum(lost)) == (21, 9)
    curve = fitted(exact(times, lost))
    published = {
        6: 0.857143,
        7: 0.806723,
        10: 0.752941,
        13: 0.690196,
        16: 0.627451,
        22: 0.537815,
        23: 0.448179,
    }
    for day, s in published.items():
        assert survival(curve, day) == pytest.approx(s, abs=6e-7)
    for day, s in km_of_lifelines(times, lost).items():
        assert survival(curve, day) == pytest.approx(s, abs=1e-9)
    assert curve.estimable_to() == 35  # the longest remission was still going on


@pytest.mark.parametrize("arm", AML)
def test_witnessed_losses_give_kaplan_meier_on_aml(arm):
    """Losses coded L = R give the Kaplan-Meier curve of aml (Miller 1997) in R survival and lifelines."""
    words, published = AML[arm]
    times = [float(w.rstrip("+")) for w in words.split()]
    lost = [not w.endswith("+") for w in words.split()]
    curve = fitted(exact(times, lost))
    for day, s in published.items():
        assert survival(curve, day) == pytest.approx(s, abs=6e-7)
    for day, s in km_of_lifelines(times, lost).items():
        assert survival(curve, day) == pytest.approx(s, abs=1e-9)
    # A witnessed loss sits on its day alone, and the day before it the unit was there.
    first = curve.q[0]
    assert curve.p[0] == first
    assert curve.survival_bounds(first - 0.5) == (1, 1)


def mice(group: str) -> list[tuple[float, float, int]]:
    table = load_mice()
    arm = table[table["grp"] == group]
    return [(float(left), float(u), 1) for left, u in zip(arm["l"], arm["u"], strict=True)]


def test_lung_tumours_in_mice():
    """Each mouse looked at once (Hoel & Walburg 1972, in lifelines): log-likelihoods and masses by own EM."""
    ce, ge = mice("ce"), mice("ge")
    assert (len(ce), sum(r < INF for _, r, _ in ce)) == (96, 27)
    assert (len(ge), sum(r < INF for _, r, _ in ge)) == (48, 35)
    first, second = fitted(ce), fitted(ge)
    assert first.loglik == pytest.approx(-51.097731, abs=1e-6)
    assert second.loglik == pytest.approx(-24.038936, abs=1e-6)
    assert (first.q[-1], first.p[-1]) == (886, INF)
    assert first.mass[-1] == pytest.approx(1 / 3, abs=5e-5)
    assert first.estimable_to() == 886
    assert masses(second)[524, 546] == pytest.approx(0.5, abs=5e-5)
    assert second.q[0] == 524


def test_hand_example():
    """(0,30]x2 (30,60] (0,60] (60,inf) (30,inf) has masses .426167 .338945 .234889, ll -5.059562 (own EM)."""
    curve = fitted(intervals("0-30x2 30-60 0-60", "60 30"))
    assert masses(curve) == pytest.approx({(0, 30): 0.426167, (30, 60): 0.338945, (60, INF): 0.234889}, abs=6e-7)
    assert curve.loglik == pytest.approx(-5.059562, abs=6e-7)
    assert curve.estimable_to() == 60
    assert curve.survival_bounds(61) == (0, pytest.approx(0.234889, abs=6e-7))


def limits_by_moving_fitted_masses_only(rows, day):
    """Narrower limits: only masses on Turnbull intervals move, each side of the day held to its share."""
    places = turnbull_intervals(rows)
    cover = np.array([[left <= q and p <= right for q, p in places] for left, right, _ in rows], float)
    units = np.array([u for *_, u in rows], float)
    after = np.array([p > day for _, p in places])
    best = fitted(rows)

    def loglik(share):
        mass = np.where(after, share / after.sum(), (1 - share) / (~after).sum())
        for _ in range(3000):
            mass = mass * (cover.T @ (units / (cover @ mass)))
            mass = mass * np.where(after, share / mass[after].sum(), (1 - share) / mass[~after].sum())
        return (units * np.log(cover @ mass)).sum()

    def beyond(share):
        return 2 * (best.loglik - loglik(share)) - 3.841459

    s = survival(best, day)
    return brentq(beyond, 0.01, s, xtol=1e-6), brentq(beyond, s, 0.99, xtol=1e-6)


# S(t), its limits when only the fitted masses move (own constrained EM), and ours where they are wider.
LIMITS = [
    ("RAD", 12, 0.7609, (0.6256, 0.8690), (None, 0.9095)),
    ("RAD", 24, 0.7609, (0.6184, 0.8679), (0.5365, None)),
    ("RAD", 40, 0.4656, (0.2877, 0.6919), (None, None)),
    ("RADCHEM", 12, 0.8442, (0.7062, 0.9393), (None, None)),
    ("RADCHEM", 20, 0.4420, (0.2850, 0.6484), (None, 0.6594)),
    ("RADCHEM", 30, 0.3421, (0.1876, 0.5143), (None, None)),
]


@pytest.mark.parametrize(("arm", "day", "value", "narrow", "wider"), LIMITS)
def test_likelihood_ratio_limits_on_breast_cosmesis(arm, day, value, narrow, wider):
    """Limits are those of own constrained EM (on Finkelstein & Wolfe 1985), or wider if other curves fit."""
    rows = ARMS[arm][0]
    low, high = likelihood_limits(*zip(*rows, strict=True), day)
    assert survival(fitted(rows), day) == pytest.approx(value, abs=5e-5)
    assert limits_by_moving_fitted_masses_only(rows, day) == pytest.approx(narrow, abs=6e-5)
    assert low == pytest.approx(wider[0] or narrow[0], abs=6e-5)
    assert high == pytest.approx(wider[1] or narrow[1], abs=6e-5)
    assert low <= narrow[0] + 6e-5
    assert high >= narrow[1] - 6e-5


def test_limits_of_a_plain_fraction():
    """If every unit is settled, 7 of 10 kept, the limits are the binomial likelihood ratio's (by hand)."""
    low, high = likelihood_limits([60, 0], [INF, 60], [7, 3], 60)

    def beyond(p):
        return 2 * (7 * math.log(0.7 / p) + 3 * math.log(0.3 / (1 - p))) - 3.841459

    assert low == pytest.approx(brentq(beyond, 0.01, 0.7), abs=1e-6)
    assert high == pytest.approx(brentq(beyond, 0.7, 0.99), abs=1e-6)


def test_no_loss_gives_a_one_sided_bound():
    """None lost of 20: loss at most 1 - 0.025^(1/20) = 0.1684, exact binomial (Clopper & Pearson 1934)."""
    low, high = likelihood_limits([60], [INF], [20], 60)
    assert 1 - low == pytest.approx(0.1684, abs=5e-5)
    assert high == 1
    low, high = likelihood_limits([0], [60], [20], 60)
    assert low == 0
    assert high == pytest.approx(0.1684, abs=5e-5)
    # Units that the day cannot settle make the bound no surer: here 3 of 23 were seen that late.
    low, _ = likelihood_limits([60, 10], [INF, INF], [3, 20], 60)
    assert low == pytest.approx(0.025 ** (1 / 3), abs=1e-9)


def test_site_retention_quotes_the_published_curve():
    """One site's figure is the RAD value at 24 months (Fay & Shaw 2010) with its likelihood-ratio limits."""
    figure = site_retention([*RAD, (0, INF, 4)], 24)
    assert figure.state == "estimated"
    assert figure.value == pytest.approx(0.7609, abs=5e-5)
    assert figure.low == pytest.approx(0.5365, abs=5e-5)
    assert figure.high == pytest.approx(0.8679, abs=5e-5)
    assert (figure.n, figure.n_of, figure.unit) == (46, "units", "fraction")
    assert figure.note == "this site only; 4 of 50 units were never looked for again"


def share_kept(kept: int, lost: int) -> list[tuple[float, float, int]]:
    return [(60, INF, kept), (0, 60, lost)]


def test_limits_over_three_sites_by_all_27_draws():
    """Over 3 sites all 27 ordered draws give the spread, and t with 2 df is 4.302653 (any t table)."""
    kept = (9, 5, 2)
    figure = retention_over_sites({f"s{k}": share_kept(k, 10 - k) for k in kept}, 60)
    draws = [logit(sum(d) / 30) for d in itertools.product(kept, repeat=3)]
    reach = 4.302653 * np.std(draws)
    assert np.std(draws) > 1 / math.sqrt(30 * (16 / 30) * (14 / 30))  # above the binomial floor
    assert figure.value == pytest.approx(16 / 30, abs=1e-12)
    assert figure.low == pytest.approx(expit(logit(16 / 30) - reach), abs=1e-6)
    assert figure.high == pytest.approx(expit(logit(16 / 30) + reach), abs=1e-6)


def test_equal_sites_fall_back_on_the_binomial_spread():
    """Six sites with 5 of 10 do not differ: sqrt(1/(60 p q)) and t with 5 df, 2.570582 (any t table)."""
    figure = retention_over_sites({f"s{k}": share_kept(5, 5) for k in range(6)}, 60)
    reach = 2.570582 / math.sqrt(60 * 0.25)
    assert figure.low == pytest.approx(expit(-reach), abs=1e-6)
    assert figure.high == pytest.approx(expit(reach), abs=1e-6)


def test_no_loss_over_sites_still_has_a_lower_limit():
    """Nothing lost at 4 sites of 10: log-odds at 1 - 0.5/40, t with 3 df, 3.182446 (any t table)."""
    figure = retention_over_sites({f"s{k}": share_kept(10, 0) for k in range(4)}, 60)
    at = 1 - 0.5 / 40
    reach = 3.182446 / math.sqrt(40 * at * (1 - at))
    assert (figure.value, figure.high) == (1, 1)
    assert figure.low == pytest.approx(expit(logit(at) - reach), abs=1e-6)
    nothing_left = retention_over_sites({f"s{k}": share_kept(0, 10) for k in range(4)}, 60)
    assert (nothing_left.value, nothing_left.low) == (0, 0)
    assert nothing_left.high == pytest.approx(1 - figure.low, abs=1e-9)


def test_limits_between_visits_come_from_the_wilder_bound():
    """On day 45 losses in (30, 60] leave only bounds, and the lower one's 27 draws give the lower limit (by hand)."""
    kept = (9, 5, 2)
    sites = {f"s{k}": [(60.0, INF, k), (30.0, 60.0, 10 - k)] for k in kept}
    figure = retention_over_sites(sites, 45)
    reach = 4.302653 * np.std([logit(sum(d) / 30) for d in itertools.product(kept, repeat=3)])
    assert (figure.state, figure.value_to, figure.high) == ("bounded", 1, 1)
    assert figure.value_from == pytest.approx(16 / 30, abs=1e-12)
    assert figure.low == pytest.approx(expit(logit(16 / 30) - reach), abs=1e-6)
    mirrored = retention_over_sites({f"s{k}": [(30.0, 60.0, k), (0.0, 30.0, 10 - k)] for k in kept}, 45)
    assert (mirrored.value_from, mirrored.low) == (0, 0)
    assert mirrored.value_to == pytest.approx(16 / 30, abs=1e-12)
    assert mirrored.high == pytest.approx(expit(logit(16 / 30) + reach), abs=1e-6)


def test_draws_of_many_sites_follow_the_spread_between_them():
    """Over nine sites the limits are near the delta method's: sd of site shares over root 9, t with 8 df."""
    kept = (2, 3, 4, 5, 5, 6, 7, 8, 9)
    figure = retention_over_sites({f"s{i}": share_kept(k, 10 - k) for i, k in enumerate(kept)}, 60)
    share = sum(kept) / 90
    spread = np.std([k / 10 for k in kept]) / 3 / (share * (1 - share))
    reach = student.ppf(0.975, 8) * spread
    assert logit(figure.value) - logit(figure.low) == pytest.approx(reach, rel=0.12)
    assert logit(figure.high) - logit(figure.value) == pytest.approx(reach, rel=0.12)


def test_all_lost_before_the_first_visit():
    """Six of six gone by the first look on day 19: until then anything between none and all, afterwards none, with the exact
    binomial limit of none in six, 1 - 0.025^(1/6) (Clopper & Pearson 1934, Biometrika 26:404)."""
    before, after = (site_retention([(0.0, 19.0, 6)], day) for day in (10, 21))
    assert (before.state, before.value_from, before.value_to) == ("bounded", 0, 1)
    assert (after.value, after.low, after.high) == (0, 0, pytest.approx(1 - 0.025 ** (1 / 6)))
