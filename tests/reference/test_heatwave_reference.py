"""Marine heatwaves and degree-days against outside figures.

The series and its results were made with the Python module of the authors of Hobday et al. 2016, Prog. Oceanogr.
141:227, and agree with a second, separate implementation to four places.
"""

import datetime as dt
import math
from decimal import Decimal

import numpy as np
import pytest

from pipeline.indicators.heat import heat
from pipeline.indicators.heatwave import Climatology, climatology, day_of_year, heatwaves
from pipeline.indicators.temperature import DayRule, Logger, LoggerDay, Told
from pipeline.indicators.warmth import degree_days, longest_run, sine_degree_days

FIRST, LAST = dt.date(1991, 1, 1), dt.date(2021, 12, 31)


def series():
    """Daily temperatures of 31 years: a year's wave, three shorter ones, and three warm spells laid on top."""
    i = np.arange((LAST - FIRST).days + 1)
    turn = 2 * np.pi * i
    t = 12 + 4 * np.sin(2 * np.pi * (i - 110) / 365.25)
    t += 0.8 * np.sin(turn / 17.3) + 0.5 * np.sin(turn / 61.7) + 0.3 * np.sin(turn / 7.1)
    at = (dt.date(2018, 7, 10) - FIRST).days
    t[at : at + 20] += 3
    t[at + 9 : at + 11] -= 4
    at = (dt.date(2019, 2, 1) - FIRST).days
    t[at : at + 6] += 2.5
    at = (dt.date(2020, 5, 1) - FIRST).days
    t[at : at + 4] += 5
    return t


@pytest.fixture(scope="module")
def usual():
    """The climatology of the series over 1991 to 2020."""
    return climatology(FIRST, series(), (1991, 2020), "made up")


@pytest.fixture(scope="module")
def events(usual):
    """Its heatwaves."""
    return heatwaves(FIRST, series(), usual)


@pytest.mark.parametrize(
    ("month", "day", "seasonal", "threshold"),
    [(7, 15, 15.97859, 16.94554), (1, 1, 8.22455, 9.17683), (2, 29, 8.91284, 9.88203)],
)
def test_climatology(usual, month, day, seasonal, threshold):
    """The seasonal mean and threshold are those of the authors' module, 29 February and new year among them."""
    at = day_of_year(dt.date(2000, month, day)) - 1
    assert usual.seasonal[at] == pytest.approx(seasonal, abs=5e-6)
    assert usual.threshold[at] == pytest.approx(threshold, abs=5e-6)


def test_events(usual, events):
    """There are 33 events, as by the authors' module; a four-day spell in May 2020 is none; 1,095 days lie above the threshold."""
    assert len(events) == 33
    assert not [e for e in events if (e.first.year, e.first.month) == (2020, 5)]
    above = [
        t > usual.threshold[day_of_year(FIRST + dt.timedelta(days=n)) - 1] for n, t in enumerate(series().tolist())
    ]
    assert sum(above) == 1095


def test_a_long_event_with_a_gap(events):
    """The event of July 2018 goes on over its two cold days, and every one of its figures is the authors' module's."""
    [e] = [e for e in events if e.first == dt.date(2018, 7, 10)]
    assert (e.last, e.days, e.peak, e.category) == (dt.date(2018, 8, 3), 25, dt.date(2018, 7, 29), 4)
    assert [e.most, e.mean, e.cumulative] == pytest.approx([4.1739, 2.4764, 61.9108], abs=5e-5)
    assert [e.onset, e.decline] == pytest.approx([0.1598, 0.5904], abs=5e-5)


def test_a_short_event(events):
    """The event of February 2019 lasts six days, with the authors' module's intensities."""
    [e] = [e for e in events if e.first == dt.date(2019, 2, 1)]
    assert (e.last, e.days, e.category) == (dt.date(2019, 2, 6), 6, 4)
    assert [e.most, e.mean, e.cumulative] == pytest.approx([3.8259, 3.2793, 19.6759], abs=5e-5)


def test_twenty_nine_years_are_no_climatology():
    """A base under thirty years is refused."""
    with pytest.raises(ValueError, match="30 full years"):
        climatology(FIRST, series(), (1991, 2019), "made up")


FLAT = Climatology((10.0,) * 366, (12.0,) * 366, (1991, 2020), "flat")


def spells(*lengths):
    """Days at 13 degC (above) and 11 (not): runs above by length, each followed by so many days below."""
    return [13.0 if n % 2 == 0 else 11.0 for n, length in enumerate(lengths) for _ in range(length)]


@pytest.mark.parametrize(
    ("lengths", "found"),
    [
        ((4, 9), []),  # four days are none
        ((5, 9), [5]),
        ((5, 2, 5, 9), [12]),  # two days between two events: one event, the days counted
        ((5, 3, 5, 9), [5, 5]),
        ((5, 2, 4, 9), [5]),  # a run of four is no event and joins none
        ((5, 1, 5, 2, 6, 9), [19]),
    ],
)
def test_which_days_are_an_event(lengths, found):
    """Five days make an event and two days part none (Hobday et al. 2016, rules 3 and 4)."""
    assert [e.days for e in heatwaves(FIRST, spells(*lengths), FLAT)] == found


def test_a_day_at_the_threshold_or_missing_breaks_a_run():
    """Only days strictly above the threshold count, and a missing day is an ordinary one."""
    for between in (12.0, math.nan):
        assert heatwaves(FIRST, [13.0] * 4 + [between] + [13.0] * 4, FLAT) == []


@pytest.mark.parametrize(("degc", "category"), [(12.5, 1), (13.9, 1), (14.0, 2), (16.0, 3), (18.0, 4), (40.0, 4)])
def test_categories(degc, category):
    """A category is how many times the threshold's distance from the mean was reached, four at most (Hobday et al. 2018)."""
    assert [e.category for e in heatwaves(FIRST, [degc] * 5, FLAT)] == [category]


def test_a_record_that_begins_and_ends_hot_has_no_rates():
    """No rate of warming or cooling is made up where nobody saw the day before or after."""
    [e] = heatwaves(FIRST, [13.0] * 6, FLAT)
    assert (e.onset, e.decline) == (None, None)


def test_degree_days():
    """14 16 18 19.5 20 17 15 over 18 are 3.5 degree-days: 1.5 and 2 (by hand)."""
    assert degree_days([14, 16, 18, 19.5, 20, 17, 15], 18) == 3.5


@pytest.mark.parametrize(
    ("least", "greatest", "limit", "value"),
    [(10, 20, 15, 1.591549), (16, 22, 18, 1.508490), (16, 20, 15, 3.0), (10, 14, 15, 0.0), (15, 15, 15, 0.0)],
)
def test_single_sine(least, greatest, limit, value):
    """Degree-days from a day's least and greatest temperature follow a single sine (Baskerville & Emin 1969, from memory)."""
    assert sine_degree_days(least, greatest, limit) == pytest.approx(value, abs=5e-7)


def test_longest_run():
    """A missing day may or may not belong to a run, so the longest run has two ends (by hand)."""
    hot, cold, unknown = True, False, None
    assert longest_run([hot, hot, cold, hot]) == (2, 2)
    assert longest_run([hot, hot, unknown, hot, cold]) == (2, 4)
    assert longest_run([]) == (0, 0)


def test_a_logger_of_thirty_years_is_its_own_climatology():
    """A logger with thirty full years shows the events of the authors' own example, and one with 29 shows none."""

    def figures(values):
        days = [
            LoggerDay(
                FIRST + dt.timedelta(days=n), 24, Decimal(24) * Decimal(repr(t)), None, 3600, None, None, 0, None, 0
            )
            for n, t in enumerate(values)
        ]
        return heat({Logger("club", "L1", "CB"): Told(days, [], {})}, {}, DayRule(Decimal(80), Decimal(5), False))

    values = series().tolist()
    told = figures(values)
    assert sum(f.estimate.value for f in told if f.indicator == "heatwaves") == pytest.approx(33, abs=2)
    [longest] = [f for f in told if f.indicator == "heatwave length" and f.of("event") == "2018-07-10"]
    assert longest.estimate.value == 25
    [refused] = figures(values[: 29 * 365])
    assert refused.estimate.state == "not estimable"
