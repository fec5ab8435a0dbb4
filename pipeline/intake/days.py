"""The days that a text may mean: three numbers in an order, or a month's name between two.

An order is three letters: DMY, MDY, YMD or YDM. Which one holds is not decided here (`orders.py`).
"""

import datetime as dt
import re
from calendar import monthrange
from functools import lru_cache

from pipeline.intake.months import bare, months, weekdays

ORDERS = ("DMY", "MDY", "YMD", "YDM")
SERIAL = {"serial": dt.date(1899, 12, 30), "serial 1904": dt.date(1904, 1, 1)}  # a workbook's own count of days
CENTURY = 70  # a year of two digits from here on is of the last century, as spreadsheets have it

# words that stand between the pieces of a day, and the tails of ordinal numbers
_BETWEEN = {
    "de", "del", "do", "da", "of", "the", "den", "der", "die", "dem", "am", "le", "el", "il", "en", "on", "d", "di", "dne",
    "st", "nd", "rd", "th", "er", "ere", "re", "e", "o", "a",
}  # fmt: skip
_IN_FRONT = {"the", "den", "le", "el", "il", "am", "on"}
_MARKS = " \t\u00a0\u202f.,:/\\_'’-\u2010\u2011\u2012\u2013\u2014\u2212"
_PIECE = re.compile(r"\d+|[^\W\d_]+")
_FOUR = re.compile(r"(?:\d+\D+){3}\d")  # numbers: a day has three at most
_EAST = re.compile(r"(\d{4})\s*[年년]\s*(\d{1,2})\s*[月월]\s*(\d{1,2})\s*[日일]?")


def full_year(text: str) -> int | None:
    """The year of four digits, or of two."""
    if len(text) == 4:
        return int(text)
    return (2000 if int(text) < CENTURY else 1900) + int(text) if len(text) == 2 else None


def readings(text: str) -> dict[str, dt.date]:
    """Order -> the day that the text is in it; {"": day} where no order is needed; nothing if it is no day at all.

    A year of four digits stands first or last. Beside a month's name with a year of two digits the day comes first, as
    spreadsheets write it, unless only the other way gives a day; an order that begins with the year is told apart.
    """
    return {} if _FOUR.search(text) else _readings(text)


@lru_cache(maxsize=65536)
def _readings(text: str) -> dict[str, dt.date]:
    if east := _EAST.fullmatch(text.strip()):
        return _only("", *map(int, east.groups()))
    if re.fullmatch(r"\d{8}", text, re.ASCII):
        return _compact(text)
    words = _pieces(text)
    if words is None:
        return {}
    numbers = [w for w in words if w.isdigit()]
    named = [months()[w] for w in words if not w.isdigit()]
    if len(named) == 1 and len(numbers) == 2:
        return _with_name(numbers, named[0])
    return _three(numbers) if not named and len(numbers) == 3 else {}


def beyond_its_month(text: str) -> dt.date | None:
    """The last day of the month that a text that is no day names, where it names a later one (31.02.2025, 32/07/2025); None otherwise."""
    found = set()
    for late in re.finditer(r"(?<!\d)(?:29|[3-9]\d)(?!\d)", text):
        for day in readings(text[: late.start()] + "28" + text[late.end() :]).values():
            last = monthrange(day.year, day.month)[1]
            if day.day == 28 and last < int(late[0]):
                found.add(day.replace(day=last))
    return found.pop() if len(found) == 1 else None


def serial(text: str, order: str) -> tuple[dt.date, str] | None:
    """The day that a workbook's number of a day is, and its time of day ("" if there is none)."""
    found = re.fullmatch(r"(\d{4,5})([.,]\d+)?", text, re.ASCII)
    if not found:
        return None
    day = SERIAL[order] + dt.timedelta(days=int(found[1]))
    seconds = round(float("0" + (found[2] or "").replace(",", ".")) * 86400)
    if seconds == 86400:
        return day + dt.timedelta(days=1), ""
    return day, f"{seconds // 3600:02d}:{seconds // 60 % 60:02d}:{seconds % 60:02d}" if seconds else ""


def _pieces(text: str) -> list[str] | None:
    """Numbers and months' names, without a weekday in front, small words and ordinal tails; None if more is there."""
    low = bare(text.replace(".", " "))
    if _PIECE.sub("", low).strip(_MARKS) or any(c.isdigit() and not c.isascii() for c in text):
        return None
    words = _PIECE.findall(low)
    known = [n for n, w in enumerate(words) if w.isdigit() or w in months()]
    if len(known) == 4 and words[known[0]] in weekdays():  # mar. 18 mars 2025, mar. 18/04/2025
        known = known[1:]
    if not known or known[-1] != len(words) - 1:
        return None
    front, behind = words[: known[0]], [w for n, w in enumerate(words) if n > known[0] and n not in known]
    good = all(w in weekdays() or w in _IN_FRONT for w in front) and all(w in _BETWEEN for w in behind)
    return [words[n] for n in known] if good else None


def _compact(text: str) -> dict[str, dt.date]:
    first = _only("", int(text[:4]), int(text[4:6]), int(text[6:])) if text[:2] in ("19", "20") else {}
    return first or (_three([text[:2], text[2:4], text[4:]]) if text[4:6] in ("19", "20") else {})


def _with_name(numbers: list[str], month: int) -> dict[str, dt.date]:
    first, last = numbers
    if len(first) == 4 and len(last) <= 2:
        return _only("", int(first), month, int(last))
    if len(first) <= 2 and len(last) == 4:
        return _only("", int(last), month, int(first))
    if len(first) > 2 or len(last) > 2:
        return {}
    day_first = _only("", full_year(last), month, int(first))
    year_first = _only("", full_year(first), month, int(last))
    return {**(day_first or year_first), **({"YMD": year_first[""]} if year_first else {})}


def _three(numbers: list[str]) -> dict[str, dt.date]:
    if len(numbers[0]) == 4:
        orders: tuple[str, ...] = ("YMD", "YDM")
    elif len(numbers[2]) == 4:
        orders = ("DMY", "MDY")
    elif all(len(n) <= 2 for n in numbers):
        orders = ORDERS
    else:
        return {}
    found: dict[str, dt.date] = {}
    for order in orders:
        piece = dict(zip(order, numbers, strict=True))
        if len(piece["D"]) <= 2 and len(piece["M"]) <= 2:
            found |= _only(order, full_year(piece["Y"]), int(piece["M"]), int(piece["D"]))
    return found


def _only(order: str, year: int | None, month: int, day: int) -> dict[str, dt.date]:
    try:
        return {} if year is None or year < 1 else {order: dt.date(year, month, day)}
    except ValueError:
        return {}
