"""Parts of years that figures are told for: calendar years, or the four meteorological seasons of three whole months."""

import datetime as dt

MONTHS = 3


def season_of(day: dt.date, meteorological: bool) -> str:
    """`2023`, or the months `2022-12 to 2023-02`: never summer or winter, which differ by hemisphere."""
    if not meteorological:
        return f"{day:%Y}"
    month = day.year * 12 + day.month - 1  # months since year 0
    first = month - (month + 1) % MONTHS  # a season begins in December, March, June or September
    return f"{_month(first)} to {_month(first + MONTHS - 1)}"


def season_days(text: str) -> tuple[dt.date, dt.date]:
    """First and last day of a season by its name; ValueError for what is none."""
    first, last = text.split(" to ") if " to " in text else (f"{text}-01", f"{text}-12")
    end = dt.date.fromisoformat(f"{last}-28") + dt.timedelta(days=4)  # a day of the month after
    return dt.date.fromisoformat(f"{first}-01"), end.replace(day=1) - dt.timedelta(days=1)


def _month(number: int) -> str:
    return f"{number // 12:04d}-{number % 12 + 1:02d}"
