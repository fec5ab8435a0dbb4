"""Two temperature loggers of one summer, and how warm it truly was.

One hangs well. The other was taken up into the air on one day, was silent for three, and nobody told of its calibration.
"""

import datetime as dt
import math
from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from seeds_demo.dice import Dice
from seeds_demo.forms import Values

EVERY_H = 4
LIMIT_DEGC = 18
IN_AIR, SILENT = dt.date(2023, 7, 20), (dt.date(2023, 8, 4), dt.date(2023, 8, 6))


@dataclass(frozen=True)
class Logger:
    """A logger at the site of that number, from the first to the last day that it hung there all day."""

    key: str
    site_index: int
    first: dt.date
    last: dt.date
    peak_degc: float
    spoilt: bool


LOGGERS = (
    Logger("FL-1", 3, dt.date(2023, 6, 15), dt.date(2023, 9, 14), 18.4, False),
    Logger("FL-2", 0, dt.date(2023, 7, 1), dt.date(2023, 8, 31), 17.9, True),
)


def days_of(seed: int, logger: Logger) -> Iterator[tuple[dt.date, float]]:
    """Every day that it hung, and the day's true mean: a summer that is warmest in the middle of August, with spells."""
    dice, spell = Dice(seed, "logger", logger.key), 0.0
    for n in range((logger.last - logger.first).days + 1):
        day = logger.first + dt.timedelta(days=n)
        spell = 0.8 * spell + 0.35 * dice.normal()
        yield day, logger.peak_degc - 4 * (1 - math.cos((day - dt.date(2023, 8, 15)).days / 45)) + spell


def readings(seed: int, logger: Logger, site: str) -> Iterator[Values]:
    """Its rows: six a day with a daily swing and the sensor's own noise; on the boat before and after."""
    dice = Dice(seed, "sensor", logger.key)
    wet = dt.datetime.combine(logger.first, dt.time()), dt.datetime.combine(logger.last, dt.time(23, 30))
    same: dict[str, Any] = {
        "logger_key": logger.key, "site_key": site, "quantity": "temperature", "unit": "degC", "in_water_from": wet[0],
        "in_water_to": wet[1], "calibrated_on": None if logger.spoilt else dt.date(2023, 5, 2), "accuracy": Decimal("0.2"),
    }  # fmt: skip
    yield {**same, "at": wet[0] - dt.timedelta(hours=3), "value": Decimal("21.4")}
    for day, mean in days_of(seed, logger):
        if logger.spoilt and SILENT[0] <= day <= SILENT[1]:
            continue
        for hour in range(0, 24, EVERY_H):
            degc = mean + 0.4 * math.sin(2 * math.pi * (hour - 10) / 24) + 0.05 * dice.normal()
            at = dt.datetime.combine(day, dt.time(hour))
            yield {**same, "at": at, "value": Decimal(f"{degc:.2f}")}
            if logger.spoilt and day == IN_AIR and hour == 12:
                yield {**same, "at": at + dt.timedelta(minutes=30), "value": Decimal("25.6")}
    yield {**same, "at": wet[1] + dt.timedelta(hours=2), "value": Decimal("20.9")}


def true_heat(seed: int, logger: Logger, site: str) -> dict[str, Any]:
    """What was true of the days of which enough is told: their mean, and how many lay above the limit."""
    told = [
        mean for day, mean in days_of(seed, logger)
        if not (logger.spoilt and (day == IN_AIR or SILENT[0] <= day <= SILENT[1]))
    ]  # fmt: skip
    return {
        "site": site, "days": len(told), "mean_degc": round(math.fsum(told) / len(told), 4),
        "days_above": sum(mean > LIMIT_DEGC for mean in told),
    }  # fmt: skip
