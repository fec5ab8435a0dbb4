"""The score test for fixings against published figures and outside programs."""

import math
from itertools import combinations

import numpy as np
import pytest
from lifelines.datasets import load_leukemia
from lifelines.statistics import logrank_test
from scipy.special import chdtrc
from test_turnbull_reference import RAD, RADCHEM

from pipeline.indicators.told_apart import scores, told_apart
from pipeline.indicators.turnbull import distinct, fit

INF = math.inf


def summed(one, other):
    """Of each score: the sum over `other`, its permutation variance, and the sum over all units."""
    left, right, units = distinct(*zip(*(one + other), strict=True))
    told, n, n1 = [], units.sum(), sum(r[2] for r in other)
    for each in scores(left, right, fit(left, right, units)):
        at = dict(zip(zip(left.tolist(), right.tolist(), strict=True), each.tolist(), strict=True))
        variance = (each**2 * units).sum() * n1 * (n - n1) / (n * (n - 1))
        told.append((math.fsum(at[lo, hi] * k for lo, hi, k in other), variance, (each * units).sum()))
    return told


# U of RADCHEM, Z, two-sided p: published
PUBLISHED = ((9.944182, 2.6839, 0.007277), (9.141846, 2.6684, 0.007622), (5.656724, 2.1672, 0.03022))


def test_breast_cosmesis_scores():
    """Finkelstein's, Sun's and Wilcoxon-type scores give U, Z and p of Fay & Shaw 2010, J. Stat. Softw. 36(2)."""
    for (u, variance, total), (published, z, p) in zip(summed(RAD, RADCHEM), PUBLISHED, strict=True):
        assert u == pytest.approx(published, abs=6e-7)
        assert u / math.sqrt(variance) == pytest.approx(z, abs=6e-5)
        assert chdtrc(1, u * u / variance) == pytest.approx(p, abs=6e-6)
        assert total == pytest.approx(0, abs=1e-7)


def test_breast_cosmesis_permuted():
    """Arms dealt out anew give the permutation chances 0.0072, 0.0077 and 0.0304 of 20,000 draws, to their noise."""
    figure = told_apart({"one": {"RAD": RAD, "RADCHEM": RADCHEM}}, "fixing")
    assert figure.value == pytest.approx(0.0072, abs=0.002)
    assert figure.n == 94 and "told apart" in figure.note and "“RADCHEM” went soonest, “RAD” last" in figure.note
    others = [float(word.strip(",;")) for word in figure.note.split("by scores of")[1].split() if word[0] == "0"]
    assert others == [pytest.approx(0.0077, abs=0.002), pytest.approx(0.0304, abs=0.004)]


def known_days(durations, events):
    """(L, R, units) with L = R where the day is known."""
    return [(float(t), float(t) if e else INF, 1) for t, e in zip(durations, events, strict=True)]


AML = (
    ([9, 13, 13, 18, 23, 28, 31, 34, 45, 48, 161], [1, 1, 0, 1, 1, 0, 1, 1, 0, 1, 0]),
    ([5, 5, 8, 8, 12, 16, 23, 27, 30, 33, 43, 45], [1, 1, 1, 1, 1, 0, 1, 1, 1, 1, 1, 1]),
)


def leukaemia_arms():
    """Freireich 1963 as lifelines has it: 6-MP, placebo."""
    data = load_leukemia()
    return tuple((data[data.Rx == arm].t.tolist(), data[data.Rx == arm].status.tolist()) for arm in (0, 1))


@pytest.mark.parametrize(("arms", "chi2"), [(AML, 3.396389), (leukaemia_arms(), 16.79294)])
def test_suns_scores_are_the_logranks_with_known_days(arms, chi2):
    """On aml (Miller 1997) and leukaemia (Freireich 1963) Sun's U squared over the log-rank's variance is its chi2."""
    (t0, e0), (t1, e1) = arms
    u = summed(known_days(t0, e0), known_days(t1, e1))[1][0]
    times, events, second = np.array(t0 + t1), np.array(e0 + e1), np.array([0] * len(t0) + [1] * len(t1))
    variance = 0.0
    for t in sorted(set(times[events == 1])):
        risk, share = (times >= t).sum(), (second[times >= t]).mean()
        lost = ((times == t) & (events == 1)).sum()
        variance += lost * share * (1 - share) * (risk - lost) / (risk - 1) if risk > 1 else 0.0
    assert u * u / variance == pytest.approx(chi2, abs=6e-5)
    assert logrank_test(t0, t1, e0, e1).test_statistic == pytest.approx(chi2, abs=6e-5)


def kept(lost, left):
    """So many lost by day 30, so many still there."""
    return [(0.0, 30.0, lost), (30.0, INF, left)]


def test_few_units_are_dealt_out_in_every_way():
    """1 of 6 bolts and 5 of 6 ties lost: the chance is Fisher's exact two-sided 0.0801 (any table of hypergeometric)."""
    figure = told_apart({"a": {"bolt": kept(1, 5), "tie": kept(5, 1)}}, "fixing")
    assert figure.value == pytest.approx(2 * (6 * 6 + 1) / math.comb(12, 6))
    assert "all 924 arrangements" in figure.note and "cannot tell" in figure.note


def test_fixings_are_dealt_out_within_sites():
    """Sites that differ much hide nothing: in each of two sites a bolt holds and a tie does not, by every arrangement."""
    sites = {
        "calm": {"bolt": kept(0, 4), "tie": kept(3, 1)},
        "wild": {"bolt": kept(1, 3), "tie": kept(4, 0)},
    }  # fmt: skip
    figure = told_apart(sites, "fixing")
    # all 3 that went at the calm site, and none that stayed at the wild one, are ties in 4 of 56 ways each; or bolts
    assert figure.value == pytest.approx(2 * (4 / 56) ** 2)
    assert "within 2 sites" in figure.note


def test_a_wild_site_with_more_ties_does_not_speak_against_ties():
    """Where in each site bolts and ties lost alike, no arrangement differs less: the chance is 1, whatever sites lost."""
    sites = {
        "calm": {"bolt": kept(2, 6), "tie": kept(1, 3)},
        "wild": {"bolt": kept(3, 1), "tie": kept(6, 2)},
    }  # fmt: skip
    assert told_apart(sites, "fixing").value == 1


def test_sites_with_one_fixing_are_dealt_out_whole():
    """Eight sites, each with one fixing: the chance is the share of the 70 ways to part them, whatever their units."""
    lost = {"a": 0, "b": 1, "c": 1, "d": 2, "e": 5, "f": 6, "g": 6, "h": 7}
    sites = {s: {"bolt" if s < "e" else "tie": kept(k, 10 - k)} for s, k in lost.items()}
    figure = told_apart(sites, "fixing")
    here = sum(lost[s] for s in "abcd") - sum(lost.values()) / 2
    hits = sum(abs(sum(lost[s] for s in four) - sum(lost.values()) / 2) >= abs(here) for four in combinations(lost, 4))
    assert hits == 2 and figure.value == pytest.approx(2 / 70)
    assert "sites are what is compared" in figure.note


def test_three_fixings():
    """Of three fixings the one that went soonest and the one that held longest are named."""
    sites = {s: {"bolt": kept(0, 6), "glue": kept(3, 3), "tie": kept(6, 0)} for s in "ab"}
    figure = told_apart(sites, "fixing")
    assert figure.value < 0.001 and "“tie” went soonest, “bolt” last" in figure.note


def test_many_units_are_no_slower():
    """A million units at one site are dealt out by their distinct intervals."""
    figure = told_apart({"a": {"bolt": kept(100_000, 400_000), "tie": kept(102_000, 398_000)}}, "fixing")
    assert figure.n == 1_000_000 and figure.value < 0.001


REFUSED = {
    "each fixing at its own site": ({"a": {"bolt": kept(1, 5)}, "b": {"tie": kept(5, 1)}}, "fixing and site cannot be told apart"),
    "too few sites": ({s: {"bolt" if s < "c" else "tie": kept(2, 4)} for s in "abcd"}, "no outcome could tell them apart"),
    "nobody lost": ({"a": {"bolt": kept(0, 5), "tie": kept(0, 5)}}, "no outcome could tell them apart"),
    "two of each": ({"a": {"bolt": kept(2, 0), "tie": kept(0, 2)}}, "no outcome could tell them apart"),
    "only one looked for": ({"a": {"bolt": kept(2, 2), "tie": [(0.0, INF, 4)]}}, "only 1 fixing were ever looked for"),
}  # fmt: skip


@pytest.mark.parametrize("case", REFUSED)
def test_refusals(case):
    """Where no outcome could tell fixings apart the figure says why and gives no number."""
    sites, why = REFUSED[case]
    figure = told_apart(sites, "fixing")
    assert figure.state == "not estimable" and why in figure.note and figure.value is None


def test_no_order_or_name_of_sites_matters():
    """The same units under other names of sites, handed over in another order, have the same chance."""
    sites = {"a": {"bolt": kept(1, 9), "tie": kept(5, 5)}, "b": {"bolt": kept(2, 8), "tie": kept(4, 6)}}
    turned = {"b": dict(reversed(sites["b"].items())), "a": dict(reversed(sites["a"].items()))}
    assert told_apart(turned, "fixing") == told_apart(sites, "fixing")
