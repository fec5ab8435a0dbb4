"""Temperature at each logger: means of a season, days and degree-days above a species' limit, the longest run of them.

A day has a mean when enough of the logger's usual readings of that day are there and count; otherwise it is missing,
never cold. Nothing here is a sample, so nothing has an interval.
"""

import datetime as dt
import math
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import NamedTuple

from pipeline.indicators.estimate import Estimate, not_estimable
from pipeline.indicators.figure import Figure, Scope, scope
from pipeline.indicators.season import season_of
from pipeline.indicators.warmth import degree_days, longest_run, sine_degree_days
from pipeline.plural import n_of

FEWEST_A_DAY = 4  # readings without which nobody knows a day's mean: common practice, no source
DAY_S = 86_400
BY_MEAN, BY_SINE = "daily means of the logger's readings", "single sine through each day's lowest and highest"


class LoggerDay(NamedTuple):
    """What a logger told of one local day: readings that count, their sum, their greatest step within an hour (degC).

    usual_gap_s: seconds between its readings in that month, None where it never read twice a day.
    lowest, highest: where the logger gives no more of a day. uncalibrated, clock_off: readings of a sensor whose
    calibration nobody told of; of a clock that was off by a minute or more.
    """

    day: dt.date
    readings: int
    total: Decimal | None
    step: Decimal | None
    usual_gap_s: int | None
    lowest: Decimal | None
    highest: Decimal | None
    uncalibrated: int
    accuracy: Decimal | None
    clock_off: int


class Logger(NamedTuple):
    """Who hung which logger where; site "" when nobody told."""

    partner: str
    key: str
    site: str


class Limit(NamedTuple):
    """A species' upper temperature as the programme states it."""

    species: str
    degc: Decimal
    source: str


@dataclass(frozen=True)
class Told:
    """Everything told of one logger at one place: its days, readings left out by day and reason, rows kept out by reason."""

    days: Sequence[LoggerDay]
    left_out: Sequence[tuple[dt.date, str, int]]
    kept_out: Mapping[str, int]


@dataclass(frozen=True)
class DayRule:
    """When a day counts: the share of the usual readings it needs, and the greatest step within an hour (degC)."""

    full_day_pct: Decimal
    most_step_degc: Decimal
    meteorological: bool

    def jumped(self, day: LoggerDay) -> bool:
        """Whether the temperature moved as it does in air."""
        return day.step is not None and day.step > self.most_step_degc

    def is_full(self, day: LoggerDay) -> bool:
        """Whether the day has a mean."""
        if day.usual_gap_s is None or day.readings < FEWEST_A_DAY or self.jumped(day):
            return False
        return day.readings * day.usual_gap_s * 100 >= self.full_day_pct * DAY_S


def means_of(days: Iterable[LoggerDay], rule: DayRule) -> dict[dt.date, float]:
    """The mean in degC of every day that has one."""
    return {d.day: float(d.total / d.readings) for d in days if d.total is not None and rule.is_full(d)}


def temperatures(loggers: Mapping[Logger, Told], limits: Sequence[Limit], rule: DayRule) -> list[Figure]:
    """Every figure of every logger and season but its heatwaves."""
    figures = []
    for logger, told in sorted(loggers.items()):
        seasons: dict[str, list[LoggerDay]] = defaultdict(list)
        for day in sorted(told.days):
            seasons[season_of(day.day, rule.meteorological)].append(day)
        for season, days in sorted(seasons.items()):
            figures += _season(logger, season, days, told, limits, rule)
    return figures


class _Season(NamedTuple):
    """A logger's season: its span of days in order, their means, and their extremes where it gives no more than these."""

    span: list[dt.date]
    means: dict[dt.date, float]
    extremes: list[tuple[float, float]]

    @property
    def missing(self) -> int:
        """Days of the span of which too little is known."""
        return len(self.span) - (len(self.means) or len(self.extremes))

    def refusal(self, unit: str) -> Estimate | None:
        """Why nothing can be told from daily means; None when something can."""
        if self.means:
            return None
        why = f"none of {n_of(len(self.span), 'day')} has enough of the logger's usual readings"
        if self.extremes:
            why = "only the lowest and highest of each day are told, which give no daily mean"
        return not_estimable(why, unit=unit, n=0, n_of="days")


def _season(
    logger: Logger, name: str, days: Sequence[LoggerDay], told: Told, limits: Sequence[Limit], rule: DayRule
) -> list[Figure]:
    in_water = [d.day for d in days if d.readings or d.lowest is not None or d.highest is not None]
    first, last = (in_water[0], in_water[-1]) if in_water else (days[0].day, days[-1].day)
    span = [first + dt.timedelta(days=i) for i in range((last - first).days + 1)]
    season = _Season(span, means_of(days, rule), [] if any(d.readings for d in days) else _extremes(days))
    left_out = [(why, n) for day, why, n in told.left_out if season_of(day, rule.meteorological) == name]
    beside = cautions(logger, days, left_out, told.kept_out, rule)
    if season.missing:
        beside.append(f"days of which too little is known, from {first} to {last}: {season.missing} of {len(span)}")

    def made(indicator: str, estimate: Estimate, limit: Limit | None = None) -> Figure:
        more = [f"limit set by the programme: {limit.degc} degC, {limit.source}"] if limit else []
        return Figure(indicator, of_logger(logger, name, limit), estimate.with_cautions(*beside, *more))

    figures = [made("mean temperature", _mean(season)), made("warmest day", _warmest(season))]
    for limit in sorted(limits):
        figures += [
            made("days above limit", _days_above(season, float(limit.degc)), limit),
            made("longest run above limit", _longest(season, float(limit.degc)), limit),
            made("degree-days above limit", _degree_days(season, float(limit.degc)), limit),
        ]
    return figures


def _extremes(days: Iterable[LoggerDay]) -> list[tuple[float, float]]:
    both = [(d.lowest, d.highest) for d in days if d.lowest is not None and d.highest is not None]
    return [(float(low), float(high)) for low, high in both if low <= high]


def of_logger(logger: Logger, season: str | None = None, limit: Limit | None = None, event: object = None) -> Scope:
    """What a figure of a logger is of."""
    rule = f"above {limit.degc} degC" if limit else None
    return scope(
        site=logger.site or None, species=limit.species if limit else None, partner=logger.partner, logger=logger.key,
        season=season, rule=rule, event=event,
    )  # fmt: skip


def cautions(
    logger: Logger,
    days: Iterable[LoggerDay],
    left_out: Iterable[tuple[str, int]],
    kept_out: Mapping[str, int],
    rule: DayRule,
) -> list[str]:
    """What to beware of in those days of a logger, each with how often."""
    times: dict[str, int] = defaultdict(int)
    for what, n in (*left_out, *kept_out.items()):
        times[what if what in kept_out else f"readings left out, {what}"] += n
    accuracy: set[Decimal] = set()
    for d in days:
        times["readings of a sensor not calibrated, as far as anybody told"] += d.uncalibrated
        times["readings of a clock that was off by a minute or more, not put right"] += d.clock_off
        times[f"days left out, moved by more than {rule.most_step_degc} degC within an hour, as in air"] += rule.jumped(
            d
        )
        accuracy |= {d.accuracy} if d.accuracy is not None else set()
    told = [f"{what}: {n}" for what, n in sorted(times.items()) if n]
    told += [f"sensor told to be right to {max(accuracy).normalize():f} degC"] if accuracy else []
    return told if logger.site else [*told, "nobody told at which site the logger hung"]


def _mean(season: _Season) -> Estimate:
    refused = season.refusal("degC")
    if refused:
        return refused
    values, note = season.means.values(), f"from {min(season.means)} to {max(season.means)}"
    return Estimate("estimated", "degC", len(values), "days", BY_MEAN, math.fsum(values) / len(values), note=note)


def _warmest(season: _Season) -> Estimate:
    refused = season.refusal("degC")
    if refused:
        return refused
    day = max(sorted(season.means), key=lambda d: season.means[d])  # the first of equal days
    return Estimate("estimated", "degC", len(season.means), "days", BY_MEAN, season.means[day], note=f"on {day}")


def _days_above(season: _Season, degc: float) -> Estimate:
    above = sum(v > degc for v in season.means.values())
    return season.refusal("days") or _least_most(season, above, above + season.missing)


def _longest(season: _Season, degc: float) -> Estimate:
    told = [season.means[d] > degc if d in season.means else None for d in season.span]
    return season.refusal("days") or _least_most(season, *longest_run(told))


def _least_most(season: _Season, least: int, most: int) -> Estimate:
    """A number of days, or both ends of it where days are missing that may have been above the limit."""
    n, note = len(season.means), f"of the days from {season.span[0]} to {season.span[-1]}"
    if least == most:
        return Estimate("estimated", "days", n, "days", BY_MEAN, float(least), note=note)
    note += "; from: as if no missing day were above the limit, to: as if every one were"
    return Estimate("bounded", "days", n, "days", BY_MEAN, value_from=float(least), value_to=float(most), note=note)


def _degree_days(season: _Season, degc: float) -> Estimate:
    unit, note = "degC days", "at least: days that are missing add nothing" if season.missing else ""
    if season.means:
        value = degree_days(season.means.values(), degc)
        return Estimate("estimated", unit, len(season.means), "days", BY_MEAN, value, note=note)
    if season.extremes:
        value = math.fsum(sine_degree_days(low, high, degc) for low, high in season.extremes)
        return Estimate("estimated", unit, len(season.extremes), "days", BY_SINE, value, note=note)
    return not_estimable(
        f"none of {n_of(len(season.span), 'day')} has enough of the logger's usual readings",
        unit=unit,
        n=0,
        n_of="days",
    )
