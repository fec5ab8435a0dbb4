"""What must hold for retention whatever the data (hypothesis looks for a breach).

The slow twin takes every gap between two neighbouring ends as a place where mass may lie, with no thought of
Turnbull intervals, and a matrix of which interval covers which gap.
"""

import math
from dataclasses import fields
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from scipy.optimize import isotonic_regression, minimize

from pipeline.indicators import turnbull
from pipeline.indicators.estimate import Estimate
from pipeline.indicators.many_curves import rough_curves
from pipeline.indicators.retention import retention_over_sites, site_retention
from pipeline.indicators.turnbull import Turnbull, distinct, fit, likelihood_limits, pooled, settled

INF = math.inf
CALM = settings(deadline=None)  # a busy machine is no fault of the code


def row(left: int, wait: float, units: int) -> tuple[float, float, int]:
    return float(left), float(left + wait), units


rows = st.builds(row, st.integers(0, 8), st.sampled_from([0, 1, 2, 3, 5, INF, INF]), st.integers(1, 4))
samples = st.lists(rows, min_size=1, max_size=9)
days = st.sampled_from([0, 0.5, 1, 2, 3, 3.5, 4, 6, 8, 9, 20])
site_samples = st.dictionaries(st.sampled_from("abcd"), samples, min_size=1, max_size=4)
HARD = [(0.0, 2.0, 1), (1.0, 3.0, 1), (2.0, 4.0, 1), (3.0, INF, 1)]


def fitted(sample: list[tuple[float, float, int]]) -> Turnbull:
    return fit(*zip(*sample, strict=True))


def twin(sample: list[tuple[float, float, int]], *more: float) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Middle of every gap (or day with a witnessed loss), which rows cover it, and the units of the rows."""
    ends = sorted({0.0, *more, *(x for left, right, _ in sample for x in (left, right) if x < INF)})
    gaps = [(a + b) / 2 for a, b in pairwise([*ends, ends[-1] + 2])]
    places = np.array(sorted([*ends, *gaps]))
    cover = [(places == left) if left == right else (places > left) & (places <= right) for left, right, _ in sample]
    return places, np.array(cover, float), np.array([units for *_, units in sample], float)


def plain_em(cover: np.ndarray, units: np.ndarray, groups: list[tuple[np.ndarray, float]]) -> np.ndarray:
    """Self-consistency, nothing else, with each group of places held to its share."""
    mass = sum(share * of / of.sum() for of, share in groups)
    for _ in range(4000):
        mass = mass * (cover.T @ (units / (cover @ mass)))
        mass = sum(share * of * mass / (of * mass).sum() for of, share in groups)
    return mass


def loglik(cover: np.ndarray, units: np.ndarray, mass: np.ndarray) -> float:
    return float((units * np.log(cover @ mass)).sum())


def spread_out(curve: Turnbull, places: np.ndarray) -> np.ndarray:
    """The fitted masses put on the twin's places: any place inside will do."""
    mass = np.zeros(len(places))
    for q, p, m in zip(curve.q, curve.p, curve.mass, strict=True):
        inside = (places == q) if q == p else (places > q) & (places <= p)
        mass[np.flatnonzero(inside)[-1]] += m
    return mass


@CALM
@given(samples)
@example(HARD)
def test_no_mass_anywhere_could_grow_with_profit(sample):
    """The published optimality test (Gentleman & Geyer 1994) holds on every gap, and the stated loglik is true."""
    curve = fitted(sample)
    places, cover, units = twin(sample)
    mass = spread_out(curve, places)
    slope = cover.T @ (units / (cover @ mass)) / units.sum()
    assert slope.max() < 1 + 1e-8
    assert curve.loglik == pytest.approx(loglik(cover, units, mass), abs=1e-9)
    assert curve.n == units.sum()
    assert math.fsum(curve.mass) == pytest.approx(1, abs=1e-12)
    assert min(curve.mass) > 1e-7  # idle masses are gone, not small


@settings(CALM, max_examples=25)
@given(samples)
@example(HARD)
def test_slow_twin_finds_nothing_better(sample):
    """Plain EM on all gaps, 4000 steps, reaches no higher likelihood, and nearly the same curve."""
    curve = fitted(sample)
    places, cover, units = twin(sample)
    mass = plain_em(cover, units, [(np.ones(len(places)), 1.0)])
    assert loglik(cover, units, mass) <= curve.loglik + 1e-9
    assert loglik(cover, units, mass) == pytest.approx(curve.loglik, abs=0.002)
    for day in (0, 1, 2.5, 4, 7, 10):
        known, possible = curve.survival_bounds(day)
        assert known - 0.03 <= mass[places > day].sum() <= possible + 0.03


@settings(CALM, max_examples=15)
@given(samples)
@example(HARD)
def test_direct_maximisation_finds_nothing_better(sample):
    """scipy's SLSQP on all gaps reaches no higher likelihood."""
    places, cover, units = twin(sample)
    size = len(places)
    found = minimize(
        lambda mass: -loglik(cover, units, mass + 1e-12),
        np.full(size, 1 / size),
        bounds=[(0, 1)] * size,
        constraints={"type": "eq", "fun": lambda mass: mass.sum() - 1},
        method="SLSQP",
    )
    mass = np.maximum(found.x, 0) + 1e-12
    assert loglik(cover, units, mass / mass.sum()) <= fitted(sample).loglik + 1e-9


@settings(CALM, max_examples=40)
@given(samples, days)
def test_limits_are_where_the_likelihood_ratio_reaches_its_bound(sample, day):
    """At each limit inside (0, 1) plain EM on all gaps, held to it, is 1.92 below the best, and no less outside."""
    curve, (known, possible) = fitted(sample), fitted(sample).survival_bounds(day)
    low, high = likelihood_limits(*zip(*sample, strict=True), day)
    assert 0 <= low <= known <= possible <= high <= 1
    assert (low, high) != (known, possible) or (known, possible) == (0, 1)
    places, cover, units = twin(sample, float(day))
    attached, lost = settled(*distinct(*zip(*sample, strict=True)), day)
    after, before = (places > day).astype(float), (places <= day).astype(float)
    for limit, one_sided in ((low, possible == 1), (high, known == 0)):
        if 0 < limit < 1 and not one_sided:
            mass = plain_em(cover, units, [(before, 1 - limit), (after, limit)])
            assert curve.loglik - loglik(cover, units, mass) == pytest.approx(3.841459 / 2, abs=0.005)
    assert (low > 0) == (attached > 0)
    assert (high < 1) == (lost > 0)


@CALM
@given(samples, days)
def test_survival_never_rises_and_its_bounds_are_ordered(sample, day):
    """Both bounds fall from 1 as the days go by, the lower never above the upper."""
    curve = fitted(sample)
    bounds = [curve.survival_bounds(d) for d in (0, 0.5, 1, 2, 2.5, 3, 4, 5, 8, 8.5, 13, 99)]
    for (known, possible), (later_known, later_possible) in pairwise(bounds):
        assert 0 <= later_known <= known <= possible <= 1
        assert later_possible <= possible
    known, possible = curve.survival_bounds(day)
    inside = any(q < day < p for q, p in zip(curve.q, curve.p, strict=True))
    assert (known < possible) == inside
    assert curve.estimable_to() == (curve.q[-1] if curve.p[-1] == INF else INF)
    if day <= curve.estimable_to() < INF:
        assert known >= curve.mass[-1] - 1e-12


@CALM
@given(st.data(), samples, days)
def test_neither_order_nor_splitting_of_weights_changes_a_bit(data, sample, day):
    """Any order of the rows, and any way of writing n units as rows of fewer, gives the same bits."""
    split = []
    for left, right, units in sample:
        first = data.draw(st.integers(0, units))
        split += [(left, right, first), (left, right, units - first)]
    shuffled = data.draw(st.permutations(split))
    assert fitted(shuffled) == fitted(sample)
    assert site_retention(shuffled, day) == site_retention(sample, day)
    columns, others = zip(*sample, strict=True), zip(*shuffled, strict=True)
    assert likelihood_limits(*columns, day) == likelihood_limits(*others, day)


@settings(CALM, max_examples=25)
@given(st.data(), site_samples, days)
def test_neither_order_nor_names_of_sites_change_a_bit(data, sites, day):
    """Any order of sites and rows, and other names for the sites, give the same bits over sites."""
    names = data.draw(st.permutations(list(sites)))
    new = data.draw(st.permutations("pqrs"))
    other = {new[i]: data.draw(st.permutations(sites[name])) for i, name in enumerate(names)}
    assert retention_over_sites(other, day) == retention_over_sites(sites, day)


def honest(figure: Estimate) -> None:
    numbers = [getattr(figure, f.name) for f in fields(figure)]
    assert all(math.isfinite(x) for x in numbers if isinstance(x, (int, float)))
    assert all(type(x) in (str, int, float, tuple, type(None)) for x in numbers)
    span = (figure.value_from, figure.value_to)
    if figure.state == "estimated":
        assert figure.value is not None
        assert span == (None, None)
        span = (figure.value, figure.value)
    else:
        assert figure.value is None
    if figure.state == "not estimable":
        assert figure.low is figure.high is None
        assert figure.note
    if figure.low is not None:
        assert 0 <= figure.low <= span[0] <= span[1] <= figure.high <= 1
        assert figure.high - figure.low > 0


@settings(CALM, max_examples=40)
@given(site_samples, days, st.dictionaries(st.sampled_from("xyz"), st.tuples(st.integers(0, 9), days)))
def test_every_figure_is_honest(sites, day, gone):
    """No NaN, no inf, limits round the value or its bounds and never shrunk to a point, a reason for refusals."""
    over = retention_over_sites(sites, day, {site: [(0.0, *told)] for site, told in gone.items()})
    honest(over)
    assert (over.cautions != ()) == any(units for units, _ in gone.values())
    together = [r for sample in sites.values() for r in sample]
    alone = site_retention(together, day)
    honest(alone)
    assert (over.state, over.value, over.value_from, over.value_to, over.n) == (
        alone.state,
        alone.value,
        alone.value_from,
        alone.value_to,
        alone.n,
    )
    told = sum(units for left, right, units in together if (left, right) != (0, INF))
    assert over.n == told
    if over.state != "not estimable":
        known, possible = fitted([r for r in together if r[:2] != (0, INF)]).survival_bounds(day)
        assert (over.state == "estimated") == (known == possible)


@given(st.lists(st.tuples(st.integers(1, 9), st.integers(0, 9)), min_size=3, max_size=3))
@settings(CALM, max_examples=20)
def test_unasked_units_only_show_in_the_note(sites):
    """Units never looked for again change the note, and neither the figure nor its limits."""
    plain = {f"s{i}": [(9.0, INF, kept), (0.0, 9.0, lost)] for i, (kept, lost) in enumerate(sites)}
    more = {name: [*sample, (0.0, INF, 2)] for name, sample in plain.items()} | {"t": [(0.0, INF, 1)]}
    one, other = retention_over_sites(plain, 9), retention_over_sites(more, 9)
    assert other.note == f"{one.note}; 7 of {one.n + 7} units were never looked for again"
    assert (other.value, other.low, other.high, other.n) == (one.value, one.low, one.high, one.n)
    assert one.note == "over 3 sites"


def test_a_figure_is_refused_after_its_last_day():
    """Nothing is said of day 61 if the last unit was seen on day 60; on day 60 itself something is."""
    sample = [(60.0, INF, 3), (0.0, 30.0, 2)]
    assert site_retention(sample, 60).value == pytest.approx(0.6)
    for figure in (site_retention(sample, 61), retention_over_sites({"a": sample}, 61)):
        assert figure.state == "not estimable"
        assert figure.note.startswith("not estimable after day 60; ")
        assert (figure.value_from, figure.n) == (None, 5)


def test_a_figure_between_visits_is_bounded():
    """Two of five were lost somewhere in (30, 60], so on day 45 between 3 and 5 of 5 are left."""
    sample = [(60.0, INF, 3), (30.0, 60.0, 2)]
    for figure in (site_retention(sample, 45), retention_over_sites(dict.fromkeys("abc", sample), 45)):
        assert figure.state == "bounded"
        assert (figure.value_from, figure.value_to) == (pytest.approx(0.6), 1)
        assert figure.low < 0.6
        assert figure.high == 1


def test_a_site_without_a_visit_says_nothing():
    """With no informative visit anything from none to all may be left, and the note counts the units."""
    figure = site_retention([(0.0, INF, 7)], 30)
    assert (figure.state, figure.n, figure.value_from, figure.value_to) == ("not estimable", 0, 0, 1)
    assert figure.note == "this site only; 7 of 7 units were never looked for again"
    assert site_retention([], 30).note == "this site only; no units"
    assert retention_over_sites({}, 30).note == "over 0 sites; no units"


def test_two_sites_have_no_interval():
    """Under three sites that tell of the day there is a value, no limits, and the note says so."""
    telling, early = [(60.0, INF, 8), (0.0, 60.0, 2)], [(10.0, INF, 9)]
    for sites in ({"a": telling, "b": telling}, {"a": telling, "b": telling, "c": early, "d": early}):
        figure = retention_over_sites(sites, 60)
        assert figure.value is not None
        assert (figure.low, figure.high) == (None, None)
        assert "no interval over sites: 2 of the 3 needed tell of that day" in figure.note
    assert retention_over_sites({"a": telling, "b": telling, "c": telling}, 60).low is not None


def test_units_seen_early_only_do_not_narrow_the_limits():
    """A thousand bags last seen on day 10 make 3 sites' statement about day 60 no surer."""
    late = {name: [(60.0, INF, 2)] for name in "abc"}
    crowd = {name: [(60.0, INF, 2), (10.0, INF, 1000)] for name in "abc"}
    assert retention_over_sites(crowd, 60).low == pytest.approx(retention_over_sites(late, 60).low)


def test_sites_never_found_again_do_not_drop_out():
    """10 of 20 kept, 10 more never found: from 10/30 (all lost) to 20/30 (all kept), in a caution."""
    found = {name: [(60.0, INF, 5), (0.0, 60.0, 5)] for name in "ab"}
    plain = retention_over_sites(found, 60)
    for sites in (found, found | {"c": [(0.0, INF, 10)]}):
        figure = retention_over_sites(sites, 60, {"c": [(0.0, 10, 30.0)]})
        assert (figure.value, figure.n) == (plain.value, 20)
        assert figure.note.startswith("over 2 sites; 10 of 30 units were never looked for again")
        assert figure.cautions == (
            "1 site was not found or not looked for again, with 10 units: the fraction lies between 0.333 (all lost) "
            "and 0.667 (all kept)",
        )
    # A search that failed later than the day asked about leaves the worst as bad.
    assert "between 0.333" in retention_over_sites(found, 60, {"c": [(0.0, 10, 90.0)]}).cautions[0]
    alone = retention_over_sites({}, 60, {"c": [(0.0, 10, 30.0)], "d": [(0.0, 1, 9.0)]})
    assert alone.state == "not estimable"
    assert alone.cautions[0].startswith(
        "2 sites were not found or not looked for again, with 11 units: the fraction lies between 0.000"
    )
    # Refitting may move the curve the other way (here all lost gives 0.256); the span holds the figure all the same.
    odd = {"a": [(2.0, 6.0, 3), (4.0, INF, 1), (0.0, 0.0, 3), (0.0, 4.0, 2), (1.0, INF, 2)]}
    figure = retention_over_sites(odd, 4, {"c": [(0.0, 2, 2.0)]})
    assert figure.value == pytest.approx(0.242, abs=5e-4)
    assert "lies between 0.242" in figure.cautions[0]


def test_a_site_lost_after_an_early_look_does_not_pass_for_kept():
    """Two sites hold 10 of 20; a third was seen whole on day 10 and not found on day 30: 10/30 to 20/30 on day 60."""
    sites = {name: [(60.0, INF, 5), (0.0, 60.0, 5)] for name in "ab"} | {"c": [(10.0, INF, 10)]}
    figure = retention_over_sites(sites, 60, {"c": [(10.0, 10, 30.0)]})
    assert "between 0.333 (all lost" in figure.cautions[0]
    assert "and 0.667 (all kept)" in figure.cautions[0]
    # on a day when its units were still seen, the failed search takes nothing away
    assert (
        "between 1.000 (all lost) and 1.000"
        in (retention_over_sites({"c": [(10.0, INF, 10)]}, 9, {"c": [(10.0, 10, 30.0)]}).cautions[0])
    )
    alone = site_retention([(10.0, INF, 6), (10.0, 20.0, 2)], 60, [(10.0, 6, 30.0)])
    assert (
        "the site was not found or not looked for again, with 6 units: the fraction lies between 0.000"
        in alone.cautions[0]
    )
    assert "and 0.750 (all kept)" in alone.cautions[0]
    with pytest.raises(ValueError, match="more than were told of"):
        retention_over_sites(sites, 60, {"c": [(10.0, 11, 30.0)]})


def test_minus_zero_is_zero():
    """A left end written -0.0 gives the same bits as 0.0, down to the sign."""
    assert repr(fit([-0.0], [1.0], [1])) == repr(fit([0.0], [1.0], [1]))
    assert repr(fit([-0.0], [-0.0], [1])) == repr(fit([0.0], [0.0], [1]))


def test_many_units_cost_no_more_than_their_distinct_intervals():
    """A million units on 200 intervals give the very curve of the 200 with their counts."""
    rng = np.random.default_rng(7)
    left = rng.integers(0, 180, 200).astype(float)
    right = np.where(rng.random(200) < 0.3, INF, left + rng.integers(0, 90, 200))
    which = rng.integers(0, 200, 1_000_000)
    assert fit(left[which], right[which], np.ones(1_000_000, int)) == fit(left, right, np.bincount(which))


@pytest.mark.parametrize(
    ("left", "right", "weight", "fault"),
    [
        ([], [], [], "no units"),
        ([1.0], [2.0], [0], "no units"),
        ([1.0, 2.0], [2.0], [1], "one length"),
        ([3.0], [2.0], [1], "left <= right"),
        ([-1.0], [2.0], [1], "0 <= left"),
        ([math.nan], [2.0], [1], "left"),
        ([1.0], [math.nan], [1], "left"),
        ([INF], [INF], [1], "finite left"),
        ([1.0], [2.0], [-1], "whole number"),
        ([1.0], [2.0], [1.5], "whole number"),
    ],
)
def test_broken_intervals_are_refused(left, right, weight, fault):
    """Intervals and counts that cannot be are refused with a reason."""
    with pytest.raises(ValueError, match=fault):
        fit(left, right, weight)


@pytest.mark.parametrize("day", [-1.0, math.nan, INF])
def test_days_that_cannot_be_are_refused(day):
    """A day is a finite number, at least 0, whoever is asked."""
    sample = [(1.0, 2.0, 1)]
    asked = (
        lambda: fitted(sample).survival_bounds(day),
        lambda: likelihood_limits([1.0], [2.0], [1], day),
        lambda: site_retention([], day),
        lambda: retention_over_sites({}, day),
        lambda: retention_over_sites({"a": sample}, 1, {"b": [(0.0, 1, day)]}),
    )
    for ask in asked:
        with pytest.raises(ValueError, match="finite and at least 0"):
            ask()


def test_a_curve_that_is_not_the_best_is_never_returned(monkeypatch):
    """If the climb stops short the optimality test (Gentleman & Geyer 1994) stops the run, except for rough refits."""
    monkeypatch.setattr(turnbull, "climb", lambda data, blocks, gap: np.full(len(data.q), 1 / len(data.q)))
    sample = ([0, 1, 3], [2, 3, INF], [5, 1, 1])
    with pytest.raises(ArithmeticError, match="maximum likelihood"):
        fit(*sample)
    assert fit(*sample, gap=0.1).n == 7


def test_small_masses_that_are_real_are_kept():
    """One unit of 30,000 lost on its own visit keeps its mass of 1/30000, by the exact fractions of settled units."""
    curve = fit([0, 10, 20], [10, 20, INF], [1, 14_999, 15_000])
    assert curve.mass == pytest.approx([1 / 30_000, 14_999 / 30_000, 0.5], rel=1e-6)
    curve = fit([0, 5, 10], [10, 5, INF], [2, 1, 59_997])  # both small masses are first left out
    assert curve.mass == pytest.approx([3 / 60_000, 59_997 / 60_000], rel=1e-6)
    # First left out, then asked for again: the slope in the middle mass of the hard example is b/(x+e) + c/(e+z).
    x, e, z = fit([0, 1, 2, 3], [2, 3, 4, INF], [9_999, 10_001, 10_000, 10_000]).mass
    assert e == pytest.approx(5e-5, rel=1e-3)
    assert 10_001 / (x + e) + 10_000 / (e + z) == pytest.approx(40_000, rel=1e-9)


def lost_on(rng: np.random.Generator, scale: float, visits: list[int]) -> tuple[float, float, int]:
    lost = scale * rng.weibull(1.2)
    made = [v for v in visits if rng.random() > 0.3]
    seen, missing = [v for v in made if v < lost], [v for v in made if v >= lost]
    return float(max(seen, default=0)), float(min(missing, default=INF)), 1


def test_limits_over_sites_hold_the_truth():
    """Of 60 simulated programmes (4 sites that differ, seeded) at least 52 hold it, as 0.95 would in 997 of 1000."""
    rng = np.random.default_rng(41)
    visits = [15, 30, 45, 60, 90, 120]
    far_apart = 0.8
    scales = 100 * np.exp(far_apart * np.random.default_rng(0).standard_normal(100_000))
    truth = float(np.exp(-((60 / scales) ** 1.2)).mean())
    held = 0
    for _ in range(60):
        sites = {}
        for name in "abcd":
            scale = 100 * math.exp(far_apart * rng.standard_normal())
            sites[name] = [lost_on(rng, scale, visits) for _ in range(10)]
        figure = retention_over_sites(sites, 60)
        held += figure.low <= truth <= figure.high
    assert held >= 52


@CALM
@given(samples, st.lists(st.lists(st.integers(0, 6), min_size=9, max_size=9), min_size=1, max_size=12))
def test_rough_curves_of_many_samples_are_those_of_each(sample, drawn):
    """Climbed together or one by one, every sample's curve comes as near to its greatest likelihood as was asked."""
    left, right, count = distinct(*zip(*sample, strict=True))
    table = np.array([[*row[: len(count) - 1], row[-1] + 1] for row in drawn])[:, : len(count)]
    for curve, units in zip(rough_curves(left, right, table, 1e-3), table, strict=True):
        best = fit(left, right, units)
        assert (curve.n, math.isclose(math.fsum(curve.mass), 1)) == (best.n, True)
        assert best.loglik - 1.01e-3 <= curve.loglik <= best.loglik + 1e-6


@CALM
@given(st.lists(st.tuples(st.integers(-4, 4) | st.floats(-1e3, 1e3), st.floats(1e-9, 1e9)), min_size=1, max_size=12))
def test_levels_are_pooled_as_scipy_does_it(told):
    """Levels put in order are scipy's to the last digit, ties and weights far apart included."""
    levels, weights = (np.array(part, float) for part in zip(*told, strict=True))
    assert pooled(levels.tolist(), weights.tolist()) == isotonic_regression(levels, weights=weights).x.tolist()


def test_a_curve_that_was_asked_for_before_is_no_other_samples():
    """Samples that share their intervals and not their units, or not how near the maximum is wanted, have curves of their own."""
    few, many = fit([0, 5], [5, INF], [1, 1]), fit([0, 5], [5, INF], [3, 1])
    assert (few.n, few.mass[0], many.n, many.mass[0]) == (2, pytest.approx(0.5), 4, pytest.approx(0.75))
    left, right, units = zip(*HARD, strict=True)
    assert fit(left, right, units, gap=0.1) != fit(left, right, units) == fit(left, right, units)
