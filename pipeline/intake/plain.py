"""Cells in other hands, put into plain ones before they are cast again: days, times, counts, measures with a unit.

Only what the cast could not read is looked at (and local times near a change of the clocks), once for each distinct
text. What cannot be put plainly stays as it stands, with the reason where more is known than that.
"""

import datetime as dt
import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from decimal import Decimal

import pyarrow as pa
import pyarrow.compute as pc

from pipeline.intake.amounts import amount, known, number, rounded
from pipeline.intake.counts import NOT_COUNTED, bare_words, count_said
from pipeline.intake.days import SERIAL, beyond_its_month, readings, serial
from pipeline.intake.orders import Order
from pipeline.intake.units import units_for
from pipeline.intake.ways import PartMap, SheetMap
from schemas.kinds import Column, Kind

Why = tuple[str, str, str]  # code, what is wanted, what to do
_TIMESTAMP = pa.timestamp("us").id
HELD = "?"  # what no cast reads

_CUT = re.compile(r"\s*(?:[\s,;]|(?<=\d)T(?=\d))\s*")
_LONGEST = 80  # no day and no measure takes more
_NO_ORDER = Order("", ())


@dataclass(frozen=True)
class Plain:
    """Cells in our writing: our column -> table of `row` and `text` ("": says nothing) of those that are put so; why some are held."""

    columns: Mapping[str, pa.Table]
    why: Mapping[tuple[str, str], Why]

    def beside(self, cells: pa.Table) -> pa.Table:
        """The cells with a column `plain.<column>` for each, null where a cell is cast as it stands."""
        for name, told in self.columns.items():
            at = pc.index_in(cells.column("row"), value_set=told.column("row").combine_chunks())
            cells = cells.append_column(f"plain.{name}", told.column("text").combine_chunks().take(at.combine_chunks()))
        return cells


@dataclass(frozen=True)
class _Said:
    """What one text says: of its own column, perhaps of others; or why it says nothing."""

    text: str
    others: Mapping[str, str] = field(default_factory=dict)
    why: Why | None = None


def plain_cells(
    typed: pa.Table, kind: Kind, sheet: SheetMap, part: PartMap, native: bool, zone: str, order: Callable[[str], Order]
) -> Plain | None:
    """What the cells that the cast (`typed`) could not read say; None if there is nothing to cast again.

    zone: the programme's. order: our column -> in which order all of its cells in the sheet write days; only asked where
    the mapping does not say.
    """
    place, decimal = sheet.timezone or zone, "." if native else sheet.decimal
    thousands = "" if native else sheet.thousands
    told: dict[str, list[pa.Table]] = {}
    why: dict[tuple[str, str], Why] = {}
    for column, mask, unsure in unread(typed, kind, place):
        says = _reader(column, kind, part, sheet.dates, place, decimal, thousands, order)
        rows = typed.column("row").filter(mask).combine_chunks()
        coded = typed.column(f"raw.{column.name}").filter(mask).cast(pa.string()).combine_chunks().dictionary_encode()
        texts = coded.dictionary.to_pylist()
        said = [says(t) if len(t) <= _LONGEST else None for t in texts]
        if unsure:  # it was read: only what speaks against that is news
            said = [s if s and s.why else None for s in said]
        why |= {(column.name, t): s.why for t, s in zip(texts, said, strict=True) if s and s.why}
        others = {name for s in said if s for name in s.others}
        for name in (column.name, *sorted(others)):
            each = [(s.text if name == column.name else s.others.get(name)) if s else None for s in said]
            made = pa.table({"row": rows, "text": pa.array(each, pa.string()).take(coded.indices)}).drop_null()
            if made.num_rows:
                told.setdefault(name, []).append(made)
    return Plain({n: pa.concat_tables(tables) for n, tables in told.items()}, why) if told else None


def unread(typed: pa.Table, kind: Kind, place: str) -> Iterator[tuple[Column, pa.ChunkedArray, bool]]:
    """Columns with cells to look at, and which: text without a value, or (True) local times near a change of the clocks."""
    names = set(typed.column_names)
    for column in kind.columns:
        raw = f"raw.{column.name}"
        if raw not in names or column.type in ("text", "yesno") or column.unit == "deg":
            continue
        mask = pc.and_(pc.is_valid(typed.column(raw)), pc.is_null(typed.column(column.name)))
        if pc.any(mask).as_py():
            yield column, mask, False
        at = "happened_at" if column.name == "happened" and "happened_at" in names else column.name
        if typed.schema.field(at).type.id == _TIMESTAMP:
            near = _near_change(typed.column(at), place)
            if pc.any(near).as_py():
                yield column, near, True


def _near_change(instants: pa.ChunkedArray, place: str) -> pa.ChunkedArray:
    """Whether an instant is within three hours of one at which the clocks of that place are set."""
    import numpy as np

    from pipeline.intake.clock import YEARS, changes

    if instants.null_count == len(instants):
        return pa.chunked_array([pa.array(np.zeros(len(instants), bool))])
    at = pc.fill_null(instants.cast(pa.timestamp("us")).cast(pa.int64()), 0).to_numpy()
    first, last = (pc.year(end).as_py() for end in pc.min_max(instants).values())
    years = range(max(first - 1, YEARS.start), min(last + 2, YEARS.stop))
    set_at = np.array(changes(place, years), "datetime64[us]").astype(np.int64)
    near, reach = np.zeros(len(at), bool), 3 * 3600 * 1_000_000
    if len(set_at):
        found = np.searchsorted(set_at, at)
        for side in (np.maximum(found - 1, 0), np.minimum(found, len(set_at) - 1)):
            near |= np.abs(set_at[side] - at) <= reach
    return pc.and_(pa.chunked_array([pa.array(near)]), pc.is_valid(instants))


def _reader(
    column: Column, kind: Kind, part: PartMap, dates: str, place: str, decimal: str, thousands: str,
    order: Callable[[str], Order],
) -> Callable[[str], _Said | None]:  # fmt: skip
    """What reads one text of a column, in the partner's words first."""
    codes = {k.lower(): v for k, v in part.codes.get(column.name, {}).items()}
    if column.type in ("day", "instant"):
        return lambda text: _moment(codes.get(text.lower(), text), column, dates, place, order)
    if column.type == "whole":
        words = kind.schema.columns
        rough = f"{column.name}_qualifier" in words
        return lambda text: _count(codes.get(text.lower(), text), column.name, rough, decimal, thousands)
    return lambda text: _measure(codes.get(text.lower(), text), column, decimal, thousands)


# --- days and times -----------------------------------------------------------------------------------------


def day_of(text: str) -> str:
    """The day that a text begins or ends with, as it stands there: without its time of day. The text itself, if none."""
    return next((day for day, _ in _cuts(text) if readings(day)), text)


def _cuts(text: str) -> Iterator[tuple[str, str]]:
    """A text as (day, time of day): whole, then cut at every gap, either first."""
    yield text, ""
    for gap in _CUT.finditer(text):
        left, right = text[: gap.start()], text[gap.end() :]
        yield left, right
        yield right, left


def _moment(text: str, column: Column, dates: str, place: str, order: Callable[[str], Order]) -> _Said | None:
    from pipeline.intake.clock import clock, instant

    if dates in SERIAL and (found := serial(text, dates)):
        day, time = found
    else:
        for written, time in _cuts(text):
            days = readings(written)
            if days and (not time or clock(time)):
                break
        else:
            return _no_such_day(text)
        picked = _picked(days, dates, written, column.name, order)
        if not isinstance(picked, dt.date):
            return picked
        day = picked
    at = clock(time) if time else None
    midnight = at is not None and (at.hour, at.minute, at.second, at.fraction, at.zone) == (0, 0, 0, "", "")
    if at is None or (midnight and column.type == "day"):
        return _Said(day.isoformat())
    found_at = instant(day, at, place)
    return _Said(HELD, why=_held_time(found_at.why, place)) if found_at.why else _Said(found_at.text)


def _no_such_day(text: str) -> _Said | None:
    """Why a text is held that names a day its month has not; None for what is no day in any other way."""
    last = next((day for written, _ in _cuts(text) if (day := beyond_its_month(written))), None)
    if last is None:
        return None
    advice = (
        f"That month has {last.day} days. Look up which day it was, and write it as year-month-day, such as 2025-04-18."
    )
    return _Said(HELD, why=("not day", "a day", advice))


def _picked(
    days: Mapping[str, dt.date], dates: str, written: str, name: str, order: Callable[[str], Order]
) -> dt.date | _Said | None:
    """Which of the days is meant: the stated order, else the one that the whole column settles."""
    if dates in days:
        return days[dates]
    if "" in days:
        return days[""]
    if "YMD" in days and written[:4].isdigit():
        return days["YMD"]
    if dates in ("YMD", "DMY", "MDY", "YDM"):
        return None
    settled = order(name)
    if settled.order:
        return days.get(settled.order)
    if not settled.asked or (not settled.against and len(set(days.values())) == 1):
        return next(iter(days.values())) if len(set(days.values())) == 1 and "YDM" not in days else None
    return _Said(HELD, why=("order of days not known", "a day whose order is certain", settled.question()))


def _held_time(why: str, place: str) -> Why:
    if why == "zone":
        return why_not(
            "zone not known", "a time whose zone is known", "Write the offset instead, such as 09:30 +01:00."
        )
    if why == "time that was skipped":
        return why_not(
            why, f"a time that the clocks of {place} showed",
            "The clocks were put forward over this time; write the time that it was, with its offset if it was read off "
            "another clock, such as 09:30 +01:00.",
        )  # fmt: skip
    return why_not(
        why, f"a time that the clocks of {place} showed once",
        "The clocks were put back, so there were two such times; write the offset behind the one that is meant, "
        "such as 09:30 +01:00.",
    )  # fmt: skip


def why_not(code: str, wanted: str, advice: str) -> Why:
    """Why a cell is held."""
    return code, wanted, advice


# --- numbers ------------------------------------------------------------------------------------------------


def _count(text: str, name: str, rough: bool, decimal: str, thousands: str) -> _Said | None:
    def whole(written: str) -> int | None:
        value = number(written, decimal, thousands)
        return int(value) if value is not None and value.denominator == 1 and value < 10**15 else None

    said = count_said(text, whole)
    if said is None:
        return None
    if said.word and not rough:
        wanted = "a whole number that was counted"
        return _Said(HELD, why=("count not exact", wanted, "Write the number alone, or leave the cell blank."))
    others = {f"{name}_qualifier": said.word} if said.word else {}
    if said.most is not None:
        others[f"{name}_most"] = str(said.most)
    return _Said("" if said.count is None else str(said.count), others)


def _measure(text: str, column: Column, decimal: str, thousands: str) -> _Said | None:
    if bare_words(text) in NOT_COUNTED:
        return _Said("")
    if not column.unit or not any(c.isdigit() for c in text):
        return None
    found = amount(text, column.unit, decimal, thousands)
    if found is None or found.value is None:
        if found is None or not known(found.unit):
            return None
        wanted = f"a number ({column.unit}), alone or with one of these units: {', '.join(units_for(column.unit))}"
        return _Said(HELD, why=(f"not {column.type}", wanted, "Mend the unit, or write the number alone."))
    return _Said(rounded(found.value, column.places)) if abs(found.value) < Decimal(10) ** 15 else None


def distinct_days(typed: pa.Table, kind: Kind, place: str) -> dict[str, set[str]]:
    """Column -> the days, each once, that its cells write otherwise than plainly: what settles an order."""
    found: dict[str, set[str]] = {}
    for column, mask, unsure in unread(typed, kind, place):
        if column.type in ("day", "instant") and not unsure:
            texts = typed.column(f"raw.{column.name}").filter(mask).unique().to_pylist()
            found.setdefault(column.name, set()).update(day_of(t) for t in texts if len(t) <= _LONGEST)
    return found
