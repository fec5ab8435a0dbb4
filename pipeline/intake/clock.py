"""A time of day in any hand, and the instant it is: with its zone or offset, or by the zone of the place.

A time that the clocks of that place skipped, or showed twice, is refused with the reason: nobody can tell what was meant.
"""

# ruff: noqa: DTZ001 (local times, and instants in UTC, stand without a zone)

import datetime as dt
import re
from dataclasses import dataclass
from functools import cache, lru_cache

_BEFORE = r"(?:kl\.?|klokken|at|à|a las|às|as|um|alle|ore)?\s*"
_NUMBERS = r"(?P<h>\d{1,2})(?:\s?[:.hHu]\s?(?P<m>[0-5]\d)(?:[:.m](?P<s>[0-5]\d)(?:[.,](?P<f>\d{1,6})\d*)?s?)?(?:\s?m(?:in)?)?|(?P<bare>\s?[hH])?)"
_PACKED = r"(?P<h4>[01]\d|2[0-3])(?P<m4>[0-5]\d)"
_HALF = r"\s*(?P<half>[ap]\.?\s?m\.?|[AP]\.?\s?M\.?)?"
_AFTER = r"\s*(?P<after>uhr|hrs?\.?|hours?|horas?|heures?|timer|ore|h)?"
_ZONE = r"\s*(?P<zone>Z|(?:UTC|GMT)?\s?[+\-\u2212](?:0?\d|1[0-4])(?::?[0-5]\d)?|\[?[A-Za-z]{2,5}\]?|\[?[A-Z][A-Za-z]+/[A-Za-z_/+\-]+\]?)?"
_CLOCK = re.compile(rf"{_BEFORE}(?:{_PACKED}|{_NUMBERS}){_HALF}{_AFTER}{_ZONE}", re.IGNORECASE)

# Letters that mean one offset to everybody; any other are good only where the clocks of the place go by them.
ZONES = {
    "Z": 0, "UTC": 0, "GMT": 0, "WET": 0, "WEST": 60, "CET": 60, "CEST": 120, "MEZ": 60, "MESZ": 120, "EET": 120, "EEST": 180,
    "JST": 540, "KST": 540, "NZST": 720, "NZDT": 780,
}  # fmt: skip


@dataclass(frozen=True)
class Clock:
    """A time of day as written. zone: the zone's letters, name or offset, "" if none; fraction: of a second, as digits."""

    hour: int
    minute: int
    second: int
    fraction: str
    zone: str

    def on(self, day: dt.date) -> dt.datetime:
        """That time on a day, without zone, to the second."""
        return dt.datetime.combine(day, dt.time(self.hour, self.minute, self.second))


@lru_cache(maxsize=65536)
def clock(text: str) -> Clock | None:
    """A time of day, None if it is none: 9:30, 09.30, 0930, 9h30, 9 h, 9:30 pm, kl. 9.30, 9:30 Uhr, 09:30 CEST."""
    found = _CLOCK.fullmatch(text.strip())
    if found is None:
        return None
    half = (found["half"] or "").lower()[:1]
    if found["h4"]:
        hour, minute = int(found["h4"]), int(found["m4"])
    elif found["m"] or found["bare"] or half or found["after"]:
        hour, minute = int(found["h"]), int(found["m"] or 0)
    else:
        return None  # a number alone
    if half and not 1 <= hour <= 12:
        return None if hour == 0 or hour > 23 or half == "a" else _made(hour, minute, found)
    if half:
        hour = hour % 12 + (12 if half == "p" else 0)
    return _made(hour, minute, found) if hour < 24 else None


def _made(hour: int, minute: int, found: "re.Match[str]") -> Clock:
    return Clock(hour, minute, int(found["s"] or 0), (found["f"] or "").rstrip("0"), (found["zone"] or "").strip("[] "))


# --- instants -----------------------------------------------------------------------------------------------

NEVER = "time that was skipped"
TWICE = "time that was twice"


@dataclass(frozen=True)
class Instant:
    """A local time with its offset, as the cast reads it; or why it is none (NEVER, TWICE, or "zone" if that is unknown)."""

    text: str
    why: str = ""


def instant(day: dt.date, at: Clock, place: str) -> Instant:
    """The time on that day: by the zone written, or by the clocks of `place` (an IANA name)."""
    local, tail = at.on(day), f".{at.fraction}" if at.fraction else ""
    shown = f"{local:%H:%M:%S}{tail}"
    if not at.zone:
        why = doubt(local, place)
        return Instant("" if why else f"{day.isoformat()} {shown}", why)
    minutes = _offset(at.zone, local, place)
    return Instant("", "zone") if minutes is None else Instant(f"{day.isoformat()} {shown}{minutes}")


def doubt(local: dt.datetime, place: str) -> str:
    """Why a local time names no single instant there; "" if it names one."""
    early, late = (_there(local.replace(fold=fold), place) for fold in (0, 1))
    if early == late:
        return ""
    return TWICE if early < late else NEVER


YEARS = range(1900, 2101)  # in which anybody's clock is asked for


def changes(place: str, years: range = YEARS) -> list[dt.datetime]:
    """The instants (UTC) of these years at which the clocks of a place are set, to the minute."""
    return [at for year in years for at in _changes(place, year)]


@cache
def _changes(place: str, year: int) -> tuple[dt.datetime, ...]:
    found, step = [], dt.timedelta(days=1)
    at, end = dt.datetime(year, 1, 1), dt.datetime(year + 1, 1, 1)
    before = _utc_offset(at, place)
    while at < end:
        then = at + step
        if (after := _utc_offset(then, place)) != before:
            low, high = at, then
            while high - low > dt.timedelta(minutes=1):
                middle = low + (high - low) / 2
                low, high = (middle, high) if _utc_offset(middle, place) == before else (low, middle)
            found.append(high)
            before = after
        at = then
    return tuple(found)


def _utc_offset(at: dt.datetime, place: str) -> dt.timedelta:
    from zoneinfo import ZoneInfo

    return at.replace(tzinfo=dt.UTC).astimezone(ZoneInfo(place)).utcoffset() or dt.timedelta()


def _there(local: dt.datetime, place: str) -> dt.datetime:
    """A local time of a place in UTC; `fold` of it says which, where there are two."""
    from zoneinfo import ZoneInfo

    return local.replace(tzinfo=ZoneInfo(place)).astimezone(dt.UTC)


def _offset(zone: str, local: dt.datetime, place: str) -> str | None:
    """The offset that a zone written behind a time is, as +hh:mm; None if it is not known."""
    from zoneinfo import ZoneInfo

    if found := re.fullmatch(r"(?:UTC|GMT)?\s?([+\-\u2212])(\d{1,2}):?(\d\d)?", zone, re.IGNORECASE):
        return f"{found[1].replace(chr(0x2212), '-')}{int(found[2]):02d}:{found[3] or '00'}"
    if zone.upper() in ZONES:
        return _written(ZONES[zone.upper()])
    if "/" in zone:
        try:
            there = ZoneInfo(zone)
        except (ValueError, OSError, KeyError):
            return None
        return None if doubt(local, zone) else _written(_minutes(local.replace(tzinfo=there)))
    for fold in (0, 1):
        here = local.replace(tzinfo=ZoneInfo(place), fold=fold)
        if here.tzname() == zone.upper() and doubt(local, place) != NEVER:
            return _written(_minutes(here))
    return None


def _minutes(at: dt.datetime) -> int:
    return round((at.utcoffset() or dt.timedelta()).total_seconds() / 60)


def _written(minutes: int) -> str:
    return f"{'-' if minutes < 0 else '+'}{abs(minutes) // 60:02d}:{abs(minutes) % 60:02d}"
