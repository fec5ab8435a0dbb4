"""Marine heatwaves at each logger, against a climatology of thirty years; a stated refusal where there is none."""

import calendar
import datetime as dt
import math
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence

from pipeline.indicators.estimate import Estimate, not_estimable
from pipeline.indicators.figure import Figure
from pipeline.indicators.heatwave import CATEGORIES, FEWEST_YEARS, Climatology, Heatwave, climatology, heatwaves
from pipeline.indicators.season import season_of
from pipeline.indicators.temperature import DayRule, Logger, Told, cautions, means_of, of_logger

METHOD = "Hobday et al. 2016, on daily means"
OWN = "the logger's own record"
FULL_YEAR = 0.9  # share of a year's days that must have a mean for the year to count: common practice, no source


def heat(loggers: Mapping[Logger, Told], usual: Mapping[Logger, Climatology], rule: DayRule) -> list[Figure]:
    """The heatwaves of every logger. usual: the supplied climatology of each logger that has one."""
    figures = []
    for logger, told in sorted(loggers.items()):
        means = means_of(told.days, rule)
        first, series = _series(means)
        curve = usual.get(logger) or _own(means, first, series)
        beside = cautions(logger, told.days, [(why, n) for _, why, n in told.left_out], told.kept_out, rule)
        if curve is None:
            why = (
                f"a short logger cannot show a heatwave: {len(_full_years(means))} full years, where a climatology of "
                f"{FEWEST_YEARS} is needed; one can be supplied as [[climatology]] in programme.toml"
            )
            refused = not_estimable(why, unit="events", n=len(means), n_of="days").with_cautions(*beside)
            figures.append(Figure("heatwaves", of_logger(logger), refused))
            continue
        beside += _of_the_curve(curve, len(series) - len(means))
        found = heatwaves(first, series, curve)
        figures += [
            Figure(f.indicator, f.scope, f.estimate.with_cautions(*beside))
            for f in _told(logger, means, found, max(means, default=first), rule)
        ]
    return figures


def _series(means: Mapping[dt.date, float]) -> tuple[dt.date, Sequence[float]]:
    """First day, and a value for every day from it on; nan where there is none."""
    if not means:
        return dt.date.min, []
    first, last = min(means), max(means)
    days = (first + dt.timedelta(days=i) for i in range((last - first).days + 1))
    return first, [means.get(day, math.nan) for day in days]


def _full_years(means: Mapping[dt.date, float]) -> list[int]:
    counted: dict[int, int] = defaultdict(int)
    for day in means:
        counted[day.year] += 1
    return sorted(y for y, n in counted.items() if n >= FULL_YEAR * (366 if calendar.isleap(y) else 365))


def _own(means: Mapping[dt.date, float], first: dt.date, series: Sequence[float]) -> Climatology | None:
    """The climatology of the logger's own full years, all in a row; None where these are too few."""
    years = _full_years(means)
    if len(years) < FEWEST_YEARS or years[-1] - years[0] + 1 != len(years):
        return None
    return climatology(first, series, (years[0], years[-1]), OWN)


def _of_the_curve(curve: Climatology, missing: int) -> list[str]:
    years = curve.years[1] - curve.years[0] + 1
    told = [f"compared with a climatology of {curve.years[0]} to {curve.years[1]}: {curve.source}"]
    if years < FEWEST_YEARS:
        told.append(f"the climatology is of {years} years only; {FEWEST_YEARS} are asked for")
    if curve.source != OWN:
        told.append("a logger on the bottom is compared with temperatures measured otherwise")
    return [*told, f"days without a mean, taken as ordinary ones: {missing}"] if missing else told


def _told(
    logger: Logger, means: Mapping[dt.date, float], found: Sequence[Heatwave], last: dt.date, rule: DayRule
) -> Iterator[Figure]:
    """How many began in each season, and each of them."""
    seasons: dict[str, int] = defaultdict(int)
    for day in means:
        seasons[season_of(day, rule.meteorological)] += 1
    for season, days in sorted(seasons.items()):
        began = sum(season_of(e.first, rule.meteorological) == season for e in found)
        note = "those that began in it"
        estimate = Estimate("estimated", "events", days, "days", METHOD, float(began), note=note)
        yield Figure("heatwaves", of_logger(logger, season), estimate)
    for e in found:
        season, note = season_of(e.first, rule.meteorological), f"from {e.first} to {e.last}"
        if e.last == last:
            note += ", where the record ends: it may have gone on"
        rates = [f"{verb} by {rate:.2f} degC a day" for verb, rate in (("rose", e.onset), ("fell", e.decline)) if rate]
        for indicator, unit, value, more in (
            ("heatwave length", "days", float(e.days), []),
            ("heatwave greatest intensity", "degC", e.most, [f"at its peak on {e.peak}", *rates]),
            ("heatwave mean intensity", "degC", e.mean, []),
            ("heatwave cumulative intensity", "degC days", e.cumulative, []),
            ("heatwave category", "1 to 4", float(e.category), [CATEGORIES[e.category - 1]]),
        ):
            told = "; ".join([note, *more])
            estimate = Estimate("estimated", unit, e.days, "days", METHOD, value, note=told)
            yield Figure(indicator, of_logger(logger, season, event=e.first), estimate)
