"""Intervals hold the truth as often as they say: a short version of `make coverage-check`."""

from coverage_check import bounds, coverage

WORLDS = 20


def test_intervals_hold_the_truth():
    """Over 20 seeded worlds, each sort of interval holds its truth about 95 times in 100, within binomial bounds."""
    low, _ = bounds(WORLDS)
    found = coverage(WORLDS)
    assert set(found) == {"density", "unit retention", "unit retention over sites"}
    for name, told in found.items():
        assert told.given >= WORLDS, name
        assert told.held / told.given >= low, f"{name}: {told}"
