"""What must hold for temperatures and plans whatever the data: slow twins, sound estimates, no order that matters."""

import datetime as dt
import math
from dataclasses import fields
from decimal import Decimal

from hypothesis import given
from hypothesis import strategies as st

from pipeline.indicators.heatwave import Climatology, day_of_year, heatwaves
from pipeline.indicators.plan_frames import ControlFrames, frames_to_plan
from pipeline.indicators.plan_units import Gone, units_to_plan
from pipeline.indicators.remember import Memory
from pipeline.indicators.temperature import DayRule, Limit, Logger, LoggerDay, Told, temperatures
from pipeline.indicators.warmth import degree_days, longest_run, sine_degree_days

FIRST = dt.date(2023, 2, 20)
USUAL = Climatology((10.0,) * 366, (12.0,) * 366, (1991, 2020), "flat")
warm = st.one_of(st.none(), st.booleans())


@given(st.lists(warm, max_size=30))
def test_longest_run_has_a_slow_twin(days):
    """The least and greatest longest run are those found by looking at every stretch of days."""

    def slow(allowed):
        stretches = [days[i:j] for i in range(len(days)) for j in range(i + 1, len(days) + 1)]
        return max((len(s) for s in stretches if all(d in allowed for d in s)), default=0)

    assert longest_run(days) == (slow([True]), slow([True, None]))


@given(st.lists(st.sampled_from([11.0, 12.0, 13.0, 15.0, math.nan]), max_size=60))
def test_heatwaves_have_a_slow_twin(temperatures_):
    """Events are those that a person would mark on a calendar: runs of five, then joined over gaps of two."""
    hot = [t > 12 for t in temperatures_]
    runs, n = [], 0
    while n < len(hot):
        end = n
        while end < len(hot) and hot[end]:
            end += 1
        runs += [[n, end - 1]] if end - n >= 5 else []
        n = max(end, n + 1)
    marked: list[list[int]] = []
    for run in runs:
        if marked and run[0] - marked[-1][1] <= 3:
            marked[-1][1] = run[1]
        else:
            marked.append(run)
    found = heatwaves(FIRST, temperatures_, USUAL)
    assert [[(e.first - FIRST).days, (e.last - FIRST).days] for e in found] == marked
    for e in found:
        assert e.first <= e.peak <= e.last
        assert 1 <= e.category <= 4
        assert e.cumulative <= e.most * e.days + 1e-9


@given(st.dates(dt.date(1950, 1, 1), dt.date(2100, 12, 31)))
def test_every_day_has_its_place_in_a_year(day):
    """A day of the year is the same in every year, and only a 29 February is day 60."""
    assert (day_of_year(day) == 60) == (day.month == 2 and day.day == 29)
    assert day_of_year(day) == day_of_year(dt.date(2000, day.month, day.day))


@given(st.lists(st.floats(-2, 30), max_size=20), st.floats(0, 25), st.floats(0, 5))
def test_degree_days_fall_with_the_limit(means, limit, more):
    """Degree-days are never negative, do not depend on the order of days, and fall as the limit rises."""
    value = degree_days(means, limit)
    assert value == degree_days(reversed(means), limit) >= degree_days(means, limit + more) >= 0


@given(st.floats(-2, 25), st.floats(0, 10), st.floats(0, 25))
def test_a_sine_lies_between_its_ends(low, range_, limit):
    """A day's degree-days lie between what its mean and what its highest alone would give."""
    value = sine_degree_days(low, low + range_, limit)
    assert max(0.0, low + range_ / 2 - limit) - 1e-9 <= value <= max(0.0, low + range_ - limit) + 1e-9


def assert_sound(e):
    """No NaN or infinity anywhere, and what cannot be told says why."""
    for field in fields(e):
        value = getattr(e, field.name)
        assert not isinstance(value, float) or math.isfinite(value)
    assert e.state != "not estimable" or (e.value is None and e.note)
    assert e.state != "bounded" or e.value_from <= e.value_to
    assert e.state != "estimated" or e.value is not None
    assert "nan" not in e.note.lower().split()


degc = st.decimals(-2, 30, places=2)
logger_days = st.builds(
    LoggerDay, st.dates(dt.date(2023, 11, 1), dt.date(2024, 3, 31)), st.integers(0, 24), degc.map(lambda d: 24 * d),
    st.none() | degc, st.none() | st.sampled_from([3600, 7200, 86400]), st.none() | degc, st.none() | degc,
    st.integers(0, 24), st.none() | st.just(Decimal("0.2")), st.integers(0, 3),
)  # fmt: skip


@given(st.lists(logger_days, max_size=25, unique_by=lambda d: d.day), st.booleans())
def test_temperatures_are_sound_in_any_order(days, meteorological):
    """Whatever a logger told, every figure is sound, and the order of its days does not matter."""
    rule, limits = DayRule(Decimal(80), Decimal(5), meteorological), [Limit("kelp", Decimal(18), "x")]
    told, other = (
        temperatures({Logger("club", "L1", "CB"): Told(list(given_), [], {})}, limits, rule)
        for given_ in (days, reversed(days))
    )
    assert told == other
    for f in told:
        assert_sound(f.estimate)


controls = st.builds(
    ControlFrames, st.sampled_from("ABCD"), st.sampled_from([dt.date(2025, 3, 1), dt.date(2025, 4, 1), dt.date(2025, 7, 1)]),
    st.just("kelp"), st.just("recruit"), st.just("frames"), st.integers(0, 50), st.sampled_from([Decimal("0.25"), Decimal(1)]),
    st.integers(1, 6),
)  # fmt: skip


@given(st.lists(controls, max_size=12), st.randoms(use_true_random=False))
def test_plans_of_frames_are_sound_in_any_order(rows, dice):
    """Whatever the controls told, every plan is sound, and the order of rows does not matter."""
    mixed = list(rows)
    dice.shuffle(mixed)
    told, other = (frames_to_plan(given_, {}, 0.5, Memory()) for given_ in (rows, mixed))
    assert told == other
    for f in told:
        assert_sound(f.estimate)


gone = st.builds(
    lambda site, left, wait, n: Gone("bag", site, left, None if wait is None else left + wait, n),
    st.sampled_from("ABCD"), st.integers(0, 90), st.none() | st.integers(0, 60), st.integers(1, 20),
)  # fmt: skip


@given(st.lists(gone, max_size=10), st.integers(1, 90), st.randoms(use_true_random=False))
def test_plans_of_units_are_sound_in_any_order(rows, points, dice):
    """Whatever became of units, every plan is sound, and the order of rows does not matter."""
    mixed = list(rows)
    dice.shuffle(mixed)
    told, other = (units_to_plan(given_, [20, 60], points, {20: (), 60: ()}, 0.1, Memory()) for given_ in (rows, mixed))
    assert told == other
    for f in told:
        assert_sound(f.estimate)
