"""What must hold for density, contrast and cost whatever the data (hypothesis looks for a breach)."""

import math
from dataclasses import fields
from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from pipeline.indicators.contrast import difference, log_ratio_spread, ratio
from pipeline.indicators.cost import fieller, ratio_of_totals, share_out
from pipeline.indicators.density import PooledDispersion, density, garwood, pooled_dispersion, zero_bound
from pipeline.indicators.sample import checked_frames

counts = st.one_of(st.just(0), st.integers(0, 6), st.integers(0, 3000))
areas = st.one_of(st.sampled_from([0.0625, 0.25, 1.0, 5.0]), st.floats(0.01, 100))
frames = st.lists(st.tuples(counts, areas), max_size=12)
two_frames = st.lists(st.tuples(counts, areas), min_size=2, max_size=8)
pools = st.builds(
    PooledDispersion,
    inv_k=st.one_of(st.sampled_from([0.0, 5e-324, 1e-300, 1e300]), st.floats(0, 50)),
    df=st.integers(3, 60),
    sites=st.just(3),
)
maybe_pools = st.one_of(st.none(), pools)
zero_ks = st.one_of(st.sampled_from([5e-324, 0.5, 1e300, math.inf]), st.floats(0.05, 20))
# As far as the functions let anything through: any whole float, 1 mm2 to 1000 km2.
extreme_frames = st.lists(st.tuples(st.integers(0, 2**53), st.floats(1e-6, 1e9)), max_size=6)
costs = st.one_of(st.sampled_from([0.0, 1e-300, -1e15, 1e15]), st.floats(-1e4, 1e6))
hectares = st.one_of(st.sampled_from([0.0, 1e-12, 1e9]), st.floats(1e-4, 10))
sites = st.lists(st.tuples(costs, hectares), max_size=10)
# Spread so mild that no guard (cut at zero, no spread, beyond use) comes near.
mild_sites = st.lists(st.tuples(st.floats(800, 1200), st.floats(0.9, 1.1)), min_size=3, max_size=8)
weights = st.dictionaries(
    st.text("abcxyz", min_size=1, max_size=3),
    st.one_of(st.integers(0, 50), st.fractions(0, 50, max_denominator=60)),
    max_size=8,
)


def columns(pairs):
    return [one for one, _ in pairs], [other for _, other in pairs]


def assert_sound(figure):
    """No NaN or infinity anywhere, limits round the value or a note why
    not, cautions sorted and unrepeated."""
    for field in fields(figure):
        value = getattr(figure, field.name)
        assert not isinstance(value, float) or math.isfinite(value)
    assert list(figure.cautions) == sorted(set(figure.cautions))
    assert "nan" not in figure.note.lower().split()
    if figure.state == "not estimable":
        assert (figure.value, figure.low, figure.high) == (None, None, None)
        assert figure.note
        return
    assert figure.state == "estimated"
    if figure.low is None or figure.high is None:
        assert (figure.low, figure.high) == (None, None)
        assert "no interval" in figure.note or "no upper bound" in figure.note
    else:
        assert figure.low <= figure.value <= figure.high
        assert figure.low < figure.high


@given(st.one_of(frames, extreme_frames), maybe_pools, zero_ks)
@example([(2**53, 1e-6), (0, 1e9)], None, 0.5)
@example([(0, 1e-6), (0, 1e9)], PooledDispersion(150.0, 9, 3), 0.5)
def test_a_density_is_always_sound(sample, pooled, zero_k):
    """Whatever the frames, a density is finite, inside its limits, and never a sure zero."""
    figure = density(*columns(sample), pooled=pooled, zero_k=zero_k)
    assert_sound(figure)
    assert (figure.value is None) == (not sample)
    assert "none found" in figure.note or figure.value != 0


@given(st.one_of(frames, extreme_frames), st.one_of(frames, extreme_frames), maybe_pools, zero_ks)
def test_a_contrast_is_always_sound(treated, control, pooled, zero_k):
    """Whatever the two arms, ratio and difference are finite, inside
    their limits, or refused with a reason."""
    arms = (*columns(treated), *columns(control))
    times, more = ratio(*arms), difference(*arms, treated_pooled=pooled, zero_k=zero_k)
    assert_sound(times)
    assert_sound(more)
    assert times.value is None or times.value > 0
    enough = len(treated) >= 2 and len(control) >= 2
    assert (more.state == "estimated") == enough
    assert (times.state == "estimated") == (enough and any(c for c, _ in treated + control))


@given(sites)
@example([(1e15, 1e-12), (-1e15, 1e9)])
@example([(1e-160, 1e-12), (3e-160, 1e-12)])
def test_a_cost_is_always_sound(sample):
    """Whatever the sites, a cost per hectare is finite, inside its limits, or refused with a reason."""
    figure = ratio_of_totals(*columns(sample))
    assert_sound(figure)
    assert (figure.value is None) == (not any(area for _, area in sample))
    if len(sample) >= 2 and (limits := fieller(*columns(sample))):
        assert all(map(math.isfinite, limits))
        assert limits[0] <= figure.value <= limits[1]


@given(st.data(), frames, frames, maybe_pools)
def test_the_order_of_frames_cannot_matter(data, treated, control, pooled):
    """Any order of the frames gives the same bits of density, ratio and difference."""
    turned, back = data.draw(st.permutations(treated)), data.draw(st.permutations(control))
    assert repr(density(*columns(treated), pooled=pooled)) == repr(density(*columns(turned), pooled=pooled))
    before, after = (*columns(treated), *columns(control)), (*columns(turned), *columns(back))
    assert repr(ratio(*before)) == repr(ratio(*after))
    assert repr(difference(*before)) == repr(difference(*after))


@given(st.data(), sites)
def test_the_order_of_sites_cannot_matter(data, sample):
    """Any order of the sites gives the same bits of cost per hectare."""
    turned = data.draw(st.permutations(sample))
    assert repr(ratio_of_totals(*columns(sample))) == repr(ratio_of_totals(*columns(turned)))


@given(st.data(), st.lists(st.lists(counts, max_size=6), max_size=6))
def test_the_order_of_a_pool_cannot_matter(data, groups):
    """Any order of the sites, and of the frames in them, gives the same bits of pooled dispersion."""
    turned = [data.draw(st.permutations(site)) for site in data.draw(st.permutations(groups))]
    one, other = ([(site, [0.25] * len(site)) for site in some] for some in (groups, turned))
    assert repr(pooled_dispersion(one)) == repr(pooled_dispersion(other))


@given(frames, st.floats(0.1, 10), maybe_pools)
def test_density_scales_with_the_unit_of_area(sample, factor, pooled):
    """The same counts on areas x times as large are densities 1/x as large, limits and all."""
    plain = density(*columns(sample), pooled=pooled)
    larger = density([c for c, _ in sample], [a * factor for _, a in sample], pooled=pooled)
    for one, other in ((plain.value, larger.value), (plain.low, larger.low), (plain.high, larger.high)):
        assert other is None if one is None else other == pytest.approx(one / factor, rel=1e-7)


@given(two_frames, two_frames, st.floats(0.1, 10))
def test_a_ratio_has_no_unit_of_area(treated, control, factor):
    """Both arms measured in another unit of area have the same ratio; one
    of them, a ratio that much larger."""
    arms, wide = (*columns(treated), *columns(control)), [a * factor for _, a in control]
    plain = ratio(*arms)
    same, larger = ratio(arms[0], [a * factor for a in arms[1]], arms[2], wide), ratio(*arms[:3], wide)
    if plain.low is not None:
        limits = [plain.value, plain.low, plain.high]
        assert [same.value, same.low, same.high] == pytest.approx(limits, rel=1e-7)
        expected = [limit * factor for limit in limits]
        assert [larger.value, larger.low, larger.high] == pytest.approx(expected, rel=1e-7)


@given(two_frames, two_frames)
def test_changing_the_arms_turns_the_contrast_over(treated, control):
    """Control against treated is the reciprocal ratio and the negative difference, limits changing places."""
    there, back = (*columns(treated), *columns(control)), (*columns(control), *columns(treated))
    one, other = ratio(*there), ratio(*back)
    if one.low is not None:
        assert [other.value, other.high] == pytest.approx([1 / one.value, 1 / one.low], rel=1e-9)
    one, other = difference(*there), difference(*back)
    if one.low is not None:
        assert [other.value, other.low, other.high] == [-one.value, -one.high, -one.low]


@given(st.lists(st.tuples(counts, areas), min_size=2, max_size=12))
def test_never_narrower_than_poisson(sample):
    """However even the counts, no interval is narrower than that of Poisson counts with the same total."""
    total = sum(c for c, _ in sample)
    figure = density(*columns(sample))
    if total and figure.low is not None:
        assert math.log(figure.high / figure.low) >= 2 * 1.96 * math.sqrt(1 / total)
    if total == 0:
        assert figure.high > garwood(0, math.fsum(a for _, a in sample))[1]


@given(two_frames, two_frames)
def test_the_ratio_is_never_narrower_than_poisson(treated, control):
    """Both variances of a log ratio are at least those of two Poisson
    totals, and the df lie between the arms'."""
    spread = log_ratio_spread(*(checked_frames(*columns(arm)) for arm in (treated, control)))
    poisson = sum(1 / (sum(c for c, _ in arm) or 0.5) for arm in (treated, control))
    assert min(spread.quasi, spread.welch) >= poisson * (1 - 1e-12)
    least, most = min(len(treated), len(control)) - 1, len(treated) + len(control) - 2
    assert least * (1 - 1e-9) <= spread.welch_df <= most * (1 + 1e-9)


@given(st.lists(areas, min_size=1, max_size=8), st.floats(0, 5), st.floats(0.01, 5))
def test_more_clumping_never_lowers_the_bound_of_empty_frames(some_areas, inv_k, more):
    """The more the recruits may clump, the less do empty frames say; unequal frames say least."""
    bound = zero_bound(some_areas, inv_k)
    mean = math.fsum(some_areas) / len(some_areas)
    clumped, equal = zero_bound(some_areas, inv_k + more), zero_bound([mean] * len(some_areas), inv_k)
    assert bound is None or clumped is None or clumped > bound
    assert bound is None or bound >= equal * (1 - 1e-9)


@given(mild_sites, st.floats(0.1, 10))
def test_cost_scales_with_money_and_area(sample, factor):
    """Costs x times as large give x times the figure, areas x times as large a x-th of it, limits and all."""
    some_costs, some_areas = columns(sample)
    plain = ratio_of_totals(some_costs, some_areas)
    dearer = ratio_of_totals([c * factor for c in some_costs], some_areas)
    wider = ratio_of_totals(some_costs, [a * factor for a in some_areas])
    if plain.low is not None and plain.high - plain.low > 1e-3 * plain.value:
        limits = [plain.value, plain.low, plain.high]
        assert [dearer.value, dearer.low, dearer.high] == pytest.approx([x * factor for x in limits], rel=1e-6)
        assert [wider.value, wider.low, wider.high] == pytest.approx([x / factor for x in limits], rel=1e-6)


@given(st.integers(-(10**12), 10**12), weights)
def test_shares_add_up_to_the_cent(total, by):
    """The parts add up exactly, each within a cent of its due; a refund
    takes back just what a charge gave."""
    parts = share_out(total, by)
    if not any(by.values()):
        assert parts is None
        return
    assert sum(parts.values()) == total
    whole = sum(by.values(), Fraction(0))
    for key, part in parts.items():
        assert abs(part - total * by[key] / whole) < 1
    assert share_out(-total, by) == {key: -part for key, part in parts.items()}


@given(st.data(), st.integers(-(10**6), 10**6), weights, st.fractions(Fraction(1, 9), 9, max_denominator=9))
def test_shares_depend_on_nothing_but_the_weights(data, total, by, factor):
    """The order and the unit of the weights cannot move a cent, and a larger weight never gets less."""
    parts = share_out(total, by)
    turned = dict(data.draw(st.permutations(list(by.items()))))
    assert share_out(total, turned) == parts
    assert share_out(total, {key: weight * factor for key, weight in by.items()}) == parts
    if parts:
        ranked = sorted(parts, key=lambda key: by[key])
        for less, more in pairwise(ranked):
            assert by[less] == by[more] or abs(parts[less]) <= abs(parts[more])
