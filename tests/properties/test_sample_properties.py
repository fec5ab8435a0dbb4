"""Frames told with how often each was found are the same to the last bit as these frames laid out one by one."""

import math

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from pipeline.indicators.baci import Arms, before_after_difference, before_after_ratio, change, relative_change
from pipeline.indicators.contrast import difference, ratio
from pipeline.indicators.density import PooledDispersion, density, pooled_dispersion, zero_bound
from pipeline.indicators.sample import Sample, checked_frames
from pipeline.indicators.survival import by_densities

alike = st.one_of(st.just(1), st.integers(1, 9), st.integers(1, 700))
counts = st.one_of(st.just(0), st.integers(0, 6), st.integers(0, 3000), st.integers(0, 2**53))
areas = st.one_of(st.sampled_from([0.0625, 0.1, 0.25, 1.0]), st.floats(0.01, 100), st.floats(1e-6, 1e9))


def frames_of(count, area=areas, most=8):
    """(counts, areas, how many such frames): any frames, and those of one size; the same pair may stand twice."""
    mixed = st.lists(st.tuples(count, area, alike), max_size=most)
    even = st.tuples(st.lists(st.tuples(count, alike), max_size=most), area)
    return st.one_of(mixed, even.map(lambda told: [(c, told[1], n) for c, n in told[0]])).map(columns)


def columns(rows):
    return [c for c, _, _ in rows], [a for _, a, _ in rows], [n for *_, n in rows]


def laid_out(told):
    """Counts and areas of every single frame."""
    single = [(c, a) for c, a, n in zip(*told, strict=True) for _ in range(n)]
    return [c for c, _ in single], [a for _, a in single]


frames = st.one_of(frames_of(counts), frames_of(st.just(0)))
pools = st.builds(
    PooledDispersion,
    inv_k=st.one_of(st.sampled_from([0.0, 1e-300]), st.floats(0, 50)),
    df=st.integers(3, 60),
    sites=st.just(3),
)
maybe_pools = st.one_of(st.none(), pools)
zero_ks = st.one_of(st.sampled_from([0.5, math.inf]), st.floats(0.05, 20))


@given(frames, maybe_pools, zero_ks)
@example(([0], [0.25], [1]), None, 0.5)
@example(([7], [0.25], [1]), None, 0.5)
@example(([3], [0.1], [700]), None, 0.5)
@example(([0, 0], [0.1, 0.3], [3, 500]), PooledDispersion(2.5, 9, 3), 0.5)
@example(([2, 5], [0.1, 0.3], [3, 500]), PooledDispersion(2.5, 9, 3), 0.5)
def test_a_density_does_not_hang_on_how_frames_are_told(told, pooled, zero_k):
    """A density of counted frames is that of the same frames laid out: zeros, one frame, unlike areas, with a pool or not."""
    whole = density(*laid_out(told), pooled=pooled, zero_k=zero_k)
    assert repr(density(*told, pooled=pooled, zero_k=zero_k)) == repr(whole)


@given(frames, frames, maybe_pools, zero_ks)
def test_comparisons_do_not_hang_on_how_frames_are_told(one, other, pooled, zero_k):
    """Ratio, difference and survival by densities of counted frames are those of the same frames laid out."""
    counted = {"times": (one[2], other[2])}
    told, whole = (*one[:2], *other[:2]), (*laid_out(one), *laid_out(other))
    assert repr(ratio(*told, **counted)) == repr(ratio(*whole))
    assert repr(by_densities(*told, **counted)) == repr(by_densities(*whole))
    how = {"treated_pooled": pooled, "zero_k": zero_k}
    assert repr(difference(*told, **counted, **how)) == repr(difference(*whole, **how))


@given(st.tuples(frames, frames, frames, frames), zero_ks, st.booleans())
def test_a_change_does_not_hang_on_how_frames_are_told(four, zero_k, fixed):
    """Both changes since planting of counted frames are those of the same frames laid out."""
    told, whole = Arms(*four), Arms(*map(laid_out, four))
    assert repr(before_after_ratio(told, fixed=fixed)) == repr(before_after_ratio(whole, fixed=fixed))
    made = [before_after_difference(arms, zero_k=zero_k, fixed=fixed) for arms in (told, whole)]
    assert repr(made[0]) == repr(made[1])
    if all(map(any, (times for *_, times in four))):
        assert (change(told), relative_change(told)) == (change(whole), relative_change(whole))


@given(st.lists(frames_of(counts, st.just(0.25)), max_size=6))
def test_a_pool_does_not_hang_on_how_frames_are_told(groups):
    """The dispersion that sites share is the same of counted frames and of the same frames laid out."""
    assert repr(pooled_dispersion(groups)) == repr(pooled_dispersion(list(map(laid_out, groups))))


@given(frames_of(st.just(0)).filter(lambda told: told[0]), st.floats(0, 5))
def test_a_bound_of_empty_frames_does_not_hang_on_how_they_are_told(told, inv_k):
    """The bound of empty frames is the same of counted areas and of the same areas laid out."""
    assert zero_bound(told[1], inv_k, told[2]) == zero_bound(laid_out(told)[1], inv_k)


@given(st.lists(st.tuples(st.floats(-1e9, 1e9), alike), max_size=12))
@example([(0.1, 3), (1e9, 1)])
def test_sums_are_rounded_once(values):
    """A sum over counted frames is the exact one, rounded once, as `math.fsum` gives it of all values one by one."""
    sample = Sample(tuple((0, 1.0) for _ in values), tuple(n for _, n in values))
    assert sample.sum_of(v for v, _ in values) == math.fsum(v for v, n in values for _ in range(n))


@pytest.mark.parametrize(
    ("times", "wrong"), [([1, 0], ValueError), ([2, -1], ValueError), ([1], ValueError), ([1, 2.5], TypeError)]
)
def test_how_often_is_a_whole_number_of_each(times, wrong):
    """How often frames were found is told of each of them, in whole numbers of one or more."""
    with pytest.raises(wrong):
        checked_frames([1, 2], [0.25, 0.25], times)
    assert len(checked_frames([1, 2], [0.25, 0.25], [3, 4])) == 7
