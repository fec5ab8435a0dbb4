"""Marine heatwaves in a daily series, against a climatology of at least thirty years.

Definitions of Hobday et al. 2016, Prog. Oceanogr. 141:227 (events, climatology) and Hobday et al. 2018, Oceanography
31(2):162 (categories). Days of the year run from 1 to 366; day 60 is 29 February, which other years skip.
"""

import datetime as dt
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]

LEAP_DAY = 60
POOLED_DAYS, SMOOTHED_DAYS = 5, 31  # days on each side whose values are pooled; width of the moving average
SHORTEST_DAYS, WIDEST_GAP_DAYS = 5, 2
FEWEST_YEARS = 30
CATEGORIES = ("moderate", "strong", "severe", "extreme")


@dataclass(frozen=True)
class Climatology:
    """What is usual and what is rare on each day of the year, in degC.

    seasonal, threshold  366 values each: the mean, and the 90th percentile that a heatwave lies above.
    years                first and last year that they were made from.
    source               who made them from what.
    """

    seasonal: tuple[float, ...]
    threshold: tuple[float, ...]
    years: tuple[int, int]
    source: str


@dataclass(frozen=True)
class Heatwave:
    """One event. Intensities are degC above the seasonal mean; cumulative in degC days; rates in degC per day.

    onset, decline  None where the record begins or ends with the event.
    category        1 moderate to 4 extreme.
    """

    first: dt.date
    last: dt.date
    peak: dt.date
    most: float
    mean: float
    cumulative: float
    onset: float | None
    decline: float | None
    category: int

    @property
    def days(self) -> int:
        """How many days it lasted, gaps counted."""
        return (self.last - self.first).days + 1


def day_of_year(day: dt.date) -> int:
    """1 to 366, as if every year had a 29 February."""
    return dt.date(2000, day.month, day.day).timetuple().tm_yday


def climatology(first: dt.date, daily_degc: npt.ArrayLike, years: tuple[int, int], source: str) -> Climatology:
    """The seasonal mean and 90th percentile of a daily series.

    first      the day of the first value; the others follow day by day, nan where missing.
    daily_degc daily means in degC. years: first and last base year, both whole.
    The values within five days of each day of the year are pooled over the base years (a window may reach outside
    them, but not outside the series); 29 February is the mean of its neighbours; then a moving average of 31 days.
    Raises ValueError for fewer than thirty base years, or a day of the year without any value.
    """
    if years[1] - years[0] + 1 < FEWEST_YEARS:
        raise ValueError(f"a climatology needs {FEWEST_YEARS} full years, not {years[0]} to {years[1]}")
    values = np.asarray(daily_degc, float)
    days = [first + dt.timedelta(days=i) for i in range(len(values))]
    numbers = np.array([day_of_year(d) if years[0] <= d.year <= years[1] else 0 for d in days])
    near = np.arange(-POOLED_DAYS, POOLED_DAYS + 1)
    seasonal, threshold = np.empty(366), np.empty(366)
    for number in range(1, 367):
        if number == LEAP_DAY:
            continue
        at = (np.flatnonzero(numbers == number)[:, None] + near).ravel()
        pooled = values[at[(at >= 0) & (at < len(values))]]
        pooled = pooled[~np.isnan(pooled)]
        if not len(pooled):
            raise ValueError(f"no value near day {number} of any base year")
        seasonal[number - 1] = np.mean(np.sort(pooled))
        threshold[number - 1] = np.percentile(pooled, 90)
    for curve in (seasonal, threshold):
        curve[LEAP_DAY - 1] = (curve[LEAP_DAY - 2] + curve[LEAP_DAY]) / 2
    return Climatology(_smoothed(seasonal), _smoothed(threshold), years, source)


def _smoothed(curve: Floats) -> tuple[float, ...]:
    """The moving average, going round over the new year."""
    half = SMOOTHED_DAYS // 2
    around = np.concatenate([curve[-half:], curve, curve[:half]])
    return tuple(np.convolve(around, np.full(SMOOTHED_DAYS, 1 / SMOOTHED_DAYS), "valid").tolist())


def heatwaves(first: dt.date, daily_degc: npt.ArrayLike, usual: Climatology) -> list[Heatwave]:
    """Every heatwave of a daily series, in order. Arguments as `climatology`; a missing day counts as an ordinary one.

    Five days or more strictly above the threshold are an event; events with at most two days between them are one,
    those days counted.
    """
    values = np.asarray(daily_degc, float)
    days = [first + dt.timedelta(days=i) for i in range(len(values))]
    at = np.array([day_of_year(d) - 1 for d in days], int)
    seasonal, threshold = np.array(usual.seasonal)[at], np.array(usual.threshold)[at]
    values = np.where(np.isnan(values), seasonal, values)
    above, over = values - seasonal, (values - threshold) / (threshold - seasonal)
    return [_event(days, above, over, start, end) for start, end in _joined(_runs(values > threshold))]


def _runs(warm: npt.NDArray[np.bool_]) -> list[tuple[int, int]]:
    """First and last place of every run that is long enough."""
    edges = np.diff(np.concatenate([[0], warm.astype(int), [0]]))
    starts, ends = np.flatnonzero(edges == 1), np.flatnonzero(edges == -1) - 1
    return [(s, e) for s, e in zip(starts.tolist(), ends.tolist(), strict=True) if e - s + 1 >= SHORTEST_DAYS]


def _joined(runs: list[tuple[int, int]]) -> list[tuple[int, int]]:
    parted = [0, *(i for i, (a, b) in enumerate(pairwise(runs), 1) if b[0] - a[1] - 1 > WIDEST_GAP_DAYS), len(runs)]
    return [(runs[a][0], runs[b - 1][1]) for a, b in pairwise(parted) if a < b]


def _event(days: list[dt.date], above: Floats, over: Floats, start: int, end: int) -> Heatwave:
    during = above[start : end + 1]
    peak = int(np.argmax(during))
    most = float(during[peak])
    onset = decline = None
    if start > 0:
        onset = (most - float(during[0] + above[start - 1]) / 2) / (peak + 0.5)
    if end + 1 < len(days):
        decline = (most - float(during[-1] + above[end + 1]) / 2) / (end - start - peak + 0.5)
    return Heatwave(
        days[start], days[end], days[start + peak], most, float(np.mean(during)), float(np.sum(during)), onset, decline,
        min(len(CATEGORIES), int(np.floor(1 + over[start : end + 1].max()))),
    )  # fmt: skip
