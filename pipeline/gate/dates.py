"""What a text says about when: Darwin Core's eventDate in the forms of ISO 8601-1, as OBIS and GBIF read it.

Sources: OBIS manual (common_formatissues.md, common_qc.md), GBIF's temporal page (tech-docs), the term's own examples.
"""

import datetime as dt
import re
from calendar import monthrange
from collections.abc import Sequence
from dataclasses import dataclass

import duckdb
import pyarrow as pa

FINE, OTHER_FORM, ZEROS, NO_SUCH_DAY, BACKWARDS, WRONG = (
    "fine",
    "other form",
    "zeros",
    "no such day",
    "backwards",
    "wrong",
)
BATCH = 100_000

_DAY = r"(?P<y>\d{4})(?:-(?P<m>\d{2})(?:-(?P<d>\d{2}))?)?"
_TIME = r"(?:T(?P<time>(?P<hour>\d{2})(?::(?P<minute>\d{2})(?::(?P<second>\d{2})(?:[.,]\d+)?)?)?)(?P<zone>Z|[+-]\d{2}(?::?\d{2})?)?)?"
_INSTANT = re.compile(_DAY + _TIME)
_END_TIME = re.compile(_TIME.replace("T(?P<time>", "(?P<time>", 1))
_ELSE = re.compile(r"\d{4}-\d{3}|\d{4}-?W\d{2}(-?\d)?|P[\dYMWDTHS.,]+")  # ordinal days, weeks, durations


@dataclass(frozen=True)
class Span:
    """The days a text speaks of, both included, and how it was written.

    digits   of the coarser end: 4 a year, 7 a month, 10 a day.
    even     whether both ends are written equally finely.
    midnight whether it tells 00:00, which often stands for no time at all.
    """

    first: dt.date
    last: dt.date
    digits: int
    even: bool
    midnight: bool

    @property
    def year(self) -> int | None:
        """The year, when it is one."""
        return self.first.year if self.first.year == self.last.year else None

    @property
    def month(self) -> int | None:
        """The month, when it is one and told."""
        return self.first.month if self.year and self.digits >= 7 and self.first.month == self.last.month else None

    @property
    def day(self) -> int | None:
        """The day, when it is one and told."""
        return self.first.day if self.month and self.digits >= 10 and self.first == self.last else None

    @property
    def start_day_of_year(self) -> int | None:
        """The first day's number in its year, when days are told."""
        return self.first.timetuple().tm_yday if self.digits >= 10 else None

    @property
    def end_day_of_year(self) -> int | None:
        """The last day's number in its year, when days are told."""
        return self.last.timetuple().tm_yday if self.digits >= 10 else None


def span(text: str) -> Span | str:
    """The days that a date or an interval speaks of, or in a word what is wrong with it.

    A short end takes what it leaves out from the start (2007-11-13/15). Ends are included, as GBIF reads them; TDWG's
    examples since 2025 read the end as “before”, which differs by a day at most.
    """
    start, bar, end = text.partition("/")
    first = _INSTANT.fullmatch(start)
    if first is None or (bar and not end):
        parts = [p for p in (start, end) if p and not _INSTANT.fullmatch(p)]
        return OTHER_FORM if parts and all(_ELSE.fullmatch(p) for p in parts) else WRONG
    if not bar:
        a = _days(first)
        return Span(*a, len(first[0].partition("T")[0]), True, _is_midnight(first)) if isinstance(a, tuple) else a
    last = _INSTANT.fullmatch(_whole_end(start, end))
    if last is None:
        return OTHER_FORM if _ELSE.fullmatch(end) else WRONG
    a, b = _days(first), _days(last)
    if isinstance(a, str) or isinstance(b, str):
        return a if isinstance(a, str) else str(b)
    digits = [len(m[0].partition("T")[0]) for m in (first, last)]
    if b[1] < a[0] or (a == b and min(digits) == 10 and _earlier(last, first)):
        return BACKWARDS
    even = digits[0] == digits[1] and bool(first["time"]) == bool(last["time"])
    return Span(a[0], b[1], min(digits), even, _is_midnight(first) and _is_midnight(last))


def _whole_end(start: str, end: str) -> str:
    """An interval's end with what it leaves out taken from the start."""
    day, _, time = start.partition("T")
    if time and _END_TIME.fullmatch(end) and ":" in end and "-" not in end.partition(":")[0]:
        return f"{day}T{end}"
    short = end.partition("T")[0]
    if re.fullmatch(r"\d{2}(-\d{2})?", short) and len(short) < len(day):
        return day[: len(day) - len(short)] + end
    return end


def _days(m: re.Match[str]) -> tuple[dt.date, dt.date] | str:
    year, month, day = int(m["y"]), int(m["m"] or 1), int(m["d"] or 1)
    if 0 in (year, month, day):
        return ZEROS
    if int(m["hour"] or 0) > 24 or int(m["minute"] or 0) > 59 or int(m["second"] or 0) > 60 or month > 12:
        return NO_SUCH_DAY
    longest = monthrange(year, month)[1]
    if day > longest:
        return NO_SUCH_DAY
    first = dt.date(year, month, day)
    if m["d"]:
        return first, first
    return first, dt.date(year, month if m["m"] else 12, longest if m["m"] else 31)


def _is_midnight(m: re.Match[str]) -> bool:
    return bool(m["time"]) and not any(int(m[part] or 0) for part in ("hour", "minute", "second"))


def _earlier(a: re.Match[str], b: re.Match[str]) -> bool:
    return bool(a["time"] and b["time"] and a["zone"] == b["zone"] and a["time"] < b["time"])


_SPOKEN = pa.schema([
    ("said", pa.string()), ("_state", pa.string()), ("_first", pa.date32()), ("_last", pa.date32()),
    ("_year", pa.int32()), ("_month", pa.int32()), ("_day", pa.int32()), ("_start", pa.int32()), ("_end", pa.int32()),
    ("_even", pa.bool_()), ("_midnight", pa.bool_()),
])  # fmt: skip


def spoken(db: duckdb.DuckDBPyConnection, tables: Sequence[str]) -> None:
    """Table `spoken`: every different eventDate of these tables, once, and what it says."""
    columns = ", ".join(f"{f.name} {'varchar' if pa.types.is_string(f.type) else _sql(f.type)}" for f in _SPOKEN)
    db.execute(f"create table spoken ({columns})")
    has = [t for t in tables if any(r[0] == "eventDate" for r in db.execute(f"describe {t}").fetchall())]
    if not has:
        return
    union = " union ".join(f'select distinct "eventDate" from {t} where "eventDate" is not null' for t in has)
    texts = db.cursor().execute(union)
    while batch := [row[0] for row in texts.fetchmany(BATCH)]:
        rows = pa.Table.from_pylist([_row(text) for text in batch], _SPOKEN)
        db.register("rows", rows)
        db.execute("insert into spoken select * from rows")
        db.unregister("rows")


def _sql(kind: pa.DataType) -> str:
    return "date" if pa.types.is_date(kind) else "boolean" if pa.types.is_boolean(kind) else "integer"


def _row(text: str) -> dict[str, object]:
    s = span(text)
    if isinstance(s, str):
        return {"said": text, "_state": s}
    return {
        "said": text, "_state": FINE, "_first": s.first, "_last": s.last, "_year": s.year, "_month": s.month, "_day": s.day,
        "_start": s.start_day_of_year, "_end": s.end_day_of_year, "_even": s.even, "_midnight": s.midnight,
    }  # fmt: skip
