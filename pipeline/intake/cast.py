"""Text -> typed values, in DuckDB SQL, the raw text kept beside: a cast that fails is a Fault with that text.

No library guesses here: whole numbers are recognised by pattern (a plain cast would round 3.5 and read 0x10),
numbers are exact decimals in our units, days are read in the order that the mapping states, times become UTC
instants by the zone written or the programme's.
"""

import re
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from types import MappingProxyType

import pyarrow as pa
import pyarrow.compute as pc

from pipeline.faults import Fault
from pipeline.intake.units import conversion
from pipeline.intake.ways import PartMap, SheetMap
from schemas.kinds import Column, Kind

YES = ("yes", "y", "true", "1", "x")
NO = ("no", "n", "false", "0")

DAY_WILL_DO = "day.told"  # beside the columns: the day of a time column whose hour may be unknown
DAY_ALONE = 10  # no day with a time of day is as short as this

_ZONE = r"(Z|[+-](?:0\d|1[0-4])(?::?[0-5]\d)?)?"
_TIME = r"[T ]+((?:[01]?\d|2[0-3]):[0-5]\d(?::[0-5]\d(?:\.\d{1,6})?)?)\s*" + _ZONE
_IN_UTC = r"(Z|[+-]00(:?00)?)$"
_DAY_PART = r"^([^T ]+)"
_MIDNIGHT = r"[T ]+00:00(:00(\.0+)?)?$"


@dataclass(frozen=True)
class Source:
    """Where a column's text comes from: a column of the sheet (`cell` of `cells`), or a fixed text. `heading` is the partner's."""

    column: Column
    raw: str  # SQL
    heading: str
    cell: str | None


def cast_sql(
    kind: Kind,
    sheet: SheetMap,
    part: PartMap,
    header: Sequence[str],
    native: bool,
    zone: str,
    plain: Collection[str] = (),
    only: Collection[str] | None = None,
) -> str:
    """SQL that turns table `cells` (row, c0, c1 ...: trimmed, never null) into `row`, every column of the kind, and `raw.<column>`s.

    header: the sheet's headings, in order. native: cells were typed, so numbers and days are written our way.
    zone: the programme's time zone, for times written without one.
    plain: our columns for which `cells` has `plain.<column>`: what a cell says in our own writing and unit, "" that it
    says nothing, null where it is cast as it stands. only: these outputs, without what is made of several cells (`with_visit_key`).
    """
    sources = {
        s.column.name: s
        for s in _sources(kind, part, header, sheet.blanks)
        if only is None or f"raw.{s.column.name}" in only  # what is not asked for would be planned nevertheless
    }
    theirs = _Style(sheet.decimal, sheet.thousands, sheet.dates, sheet.timezone or zone)
    style = replace(theirs, decimal=".", thousands="", dates="YMD", native=True) if native else theirs
    inner = ", ".join(
        [f'{_unless_silent(s.raw, n, plain)} as "raw.{n}"' for n, s in sources.items()]
        + [f'"plain.{n}"' for n in plain]
    )
    ours = {n: _said(n, n in plain, style) for n in sources}  # the text of a day or a time
    typed = {
        c.name: _best(c, part, style if sources[c.name].heading else theirs, c.name in plain, ours[c.name])
        if c.name in sources
        else (f'"plain.{c.name}"' if c.type == "text" else _typed(c, f'"plain.{c.name}"', part, OURS, ours=True))
        if c.name in plain
        else _null(c)
        for c in kind.columns
    }
    instants = {n: _instant(ours[n], style) for n in sources if kind.column(n).type == "instant"}
    if "happened" in sources:  # a time written beside the day gives the instant too
        raw = _without_midnight(ours["happened"])
        instants["happened"] = _instant(raw, style)
        typed["happened"] = _local_day(raw, '"at.happened"', style)
        typed["happened_at"] = '"at.happened"'
        typed["happened_zone"] = f'case when "at.happened" is not null then {_zone_text(raw, style)} end'
    told = kind.happened_from
    if told in sources:
        raw, by_day = ours[told], kind.column(told).type == "day"
        fallback = typed[told] if by_day else _local_day(raw, f'"at.{told}"', style)
        unwritten = '"raw.happened" is null' if "happened" in sources else "true"
        typed["happened"] = f"case when {unwritten} then {fallback} else {typed['happened']} end"
        if not by_day and not kind.column(told).required:  # the hour may be unknown: then a day will do
            typed[DAY_WILL_DO] = fallback
    typed |= {f"raw.{n}": f'"raw.{n}"' for n in sources}
    outer = ", ".join(f'{sql} as "{n}"' for n, sql in typed.items() if only is None or n in only)
    ats = "".join(f', {sql} as "at.{n}"' for n, sql in instants.items())
    where = f"where {_filled(header.index(part.only_if), sheet.blanks)} is not null" if part.only_if else ""
    made = f"select row, {outer} from (select *{ats} from (select row, {inner or '1 as one'} from cells {where}))"
    return made if only is not None else with_visit_key(kind, made)


def read_alone(kind: Kind, part: PartMap, header: Sequence[str]) -> dict[str, str | None] | None:
    """Output of `cast_sql` -> the one column of `cells` that it is made of, None: of none. None instead, if some are made of two.

    A visit's code, which may be made of several, is left to `with_visit_key`.
    """
    cells = {s.column.name: s.cell for s in _sources(kind, part, header, ())}
    told = kind.happened_from
    if part.only_if or {"happened", told} <= set(cells):
        return None
    made = {c.name: cells.get(c.name) for c in kind.columns}
    if "happened" in cells:
        made |= dict.fromkeys(("happened_at", "happened_zone"), cells["happened"])
    if told in cells:
        made["happened"] = cells[told]
        if kind.column(told).type != "day" and not kind.column(told).required:
            made[DAY_WILL_DO] = cells[told]
    return made | {f"raw.{name}": cell for name, cell in cells.items()}


def with_visit_key(kind: Kind, made: str) -> str:
    """A dive without a code of its own is named by its site, day and dive number (design: identity of a visit). made: SQL."""
    if "visit_key" not in kind.key:
        return made
    named = "site_key || ' ' || cast(happened as varchar) || ' ' || cast(coalesce(dive_number, 1) as varchar)"
    return f"select * replace (coalesce(visit_key, {named}) as visit_key) from ({made})"


@dataclass(frozen=True)
class _Style:
    decimal: str
    thousands: str
    dates: str
    zone: str
    native: bool = False


OURS = _Style(".", "", "YMD", "UTC")


def _unless_silent(raw: str, name: str, plain: Collection[str]) -> str:
    return f"""case when "plain.{name}" = '' then null else {raw} end""" if name in plain else raw


def _said(name: str, plain: bool, style: _Style) -> str:
    """The text of a day or time: as it is in our writing, else as it stands; an order that SQL does not read never does."""
    raw = f'"raw.{name}"' if style.dates != "YDM" and not style.dates.startswith("serial") else "cast(null as varchar)"
    return f'coalesce("plain.{name}", {raw})' if plain else raw


def _best(column: Column, part: PartMap, style: _Style, plain: bool, said: str) -> str:
    """A column from what its cell says in our writing, else from the cell as it stands."""
    if column.type in ("day", "instant"):
        return _typed(column, said, part, style)
    theirs = _typed(column, f'"raw.{column.name}"', part, style)
    if not plain:
        return theirs
    mine = f'"plain.{column.name}"'
    if column.type == "text":  # what the partner wrote in a cell of its own goes before what another cell lets us say
        return f'case when "raw.{column.name}" is null then {mine} else {theirs} end'
    return f"case when {mine} is null then {theirs} else {_typed(column, mine, part, OURS, ours=True)} end"


def _text(value: str) -> str:
    return "'" + value.replace("'", "''") + "'"


def _sources(kind: Kind, part: PartMap, header: Sequence[str], blanks: Sequence[str]) -> list[Source]:
    at: dict[str, int] = {}
    for i, h in enumerate(header):
        at.setdefault(h, i)
    found = []
    for column in kind.columns:
        heading = part.headings.get(column.name)
        if heading is not None and heading in at:
            raw, cell = _filled(at[heading], blanks), f"c{at[heading]}"
        elif column.name in part.fixed:
            raw, heading, cell = _text(part.fixed[column.name]), "", None
        else:
            continue
        found.append(Source(column, raw, heading or "", cell))
    return found


def _filled(at: int, blanks: Sequence[str]) -> str:
    """The cell, null when it is blank or holds one of the partner's words for that."""
    cell = f"nullif(c{at}, '')"
    words = ", ".join(f"lower({_text(b)})" for b in blanks)
    return f"case when lower({cell}) in ({words}) then null else {cell} end" if words else cell


def headings_of(kind: Kind, part: PartMap) -> dict[str, str]:
    """Our column -> the partner's heading, "" where the mapping gives a fixed value."""
    return {c.name: part.headings.get(c.name, "") for c in kind.columns}


def _null(column: Column) -> str:
    return f"cast(null as {duck_type(column)})"


def duck_type(column: Column) -> str:
    """The column's type in DuckDB."""
    plain = {"text": "varchar", "whole": "bigint", "day": "date", "instant": "timestamp", "yesno": "boolean"}
    return plain.get(column.type) or f"decimal(18,{column.places})"


def _typed(column: Column, raw: str, part: PartMap, style: _Style, ours: bool = False) -> str:
    """SQL of a text's value. ours: it is in our own words and unit already."""
    codes = {} if ours else part.codes.get(column.name, {})
    if codes:
        whens = " ".join(f"when lower({_text(k)}) then {_text(v)}" for k, v in codes.items())
        raw = f"(case lower({raw}) {whens} else {raw} end)"
    if column.type == "text":
        if not column.allowed:
            return raw
        whens = " ".join(f"when {_text(a.casefold())} then {_text(a)}" for a in column.allowed)
        return f"case lower({raw}) {whens} else {raw} end"
    if column.type == "yesno":
        yes, no = (", ".join(map(_text, words)) for words in (YES, NO))
        return f"case when lower({raw}) in ({yes}) then true when lower({raw}) in ({no}) then false end"
    if column.type == "day":
        return _day(f"regexp_replace({raw}, '{_MIDNIGHT}', '')", style)
    if column.type == "instant":
        return f'"at.{column.name}"'
    number = _number(raw, style)
    if column.type == "whole":
        bare = f"regexp_replace({number}, '\\.0*$', '')"
        return f"case when regexp_full_match({number}, '[+-]?\\d{{1,18}}(\\.0*)?') then try_cast({bare} as bigint) end"
    stored = part.unit_of(column.name, column.unit)
    written = stored if ours else part.units.get(column.name, stored)
    factor, added = conversion(written, stored) or (Decimal(1), Decimal(0))
    exact = number
    if factor != 1 or added:
        exact = f"(try_cast({number} as decimal(24,9)) * {factor:f}{f' + {added:f}' if added else ''})"
    power = r"(e[+-]?\d{1,2})?" if style.native else ""  # how a typed float is written once it is small
    looks = f"regexp_full_match({number}, '[+-]?(\\d{{1,15}}(\\.\\d*)?|\\.\\d+){power}')"
    return f"case when {looks} then try_cast({exact} as {duck_type(column)}) end"


def _number(raw: str, style: _Style) -> str:
    sql = raw
    if style.thousands:  # only between groups of three: elsewhere such a mark is a slip, or a decimal mark
        mark = re.escape(style.thousands)
        grouped = _text(rf"[+-]?\d{{1,3}}({mark}\d{{3}})+({re.escape(style.decimal)}\d*)?")
        bare = f"case when regexp_full_match({sql}, {grouped}) then replace({sql}, {_text(style.thousands)}, '') end"
        sql = f"case when contains({sql}, {_text(style.thousands)}) then {bare} else {sql} end"
    if style.decimal == ",":  # a point left in such a number is a slip, not a decimal mark
        sql = f"case when contains({sql}, '.') then null else replace({sql}, ',', '.') end"
    return f"({sql})"


def _day(text: str, style: _Style) -> str:
    dashed = f"regexp_replace({text}, '[./]', '-', 'g')"
    iso = f"when regexp_full_match({dashed}, '\\d{{4}}-\\d{{1,2}}-\\d{{1,2}}') then try_strptime({dashed}, '%Y-%m-%d')"
    other = ""
    if style.dates in ("DMY", "MDY"):
        order = "%d-%m" if style.dates == "DMY" else "%m-%d"
        other = (
            f" when regexp_full_match({dashed}, '\\d{{1,2}}-\\d{{1,2}}-\\d{{4}}') then try_strptime({dashed}, '{order}-%Y')"
            f" when regexp_full_match({dashed}, '\\d{{1,2}}-\\d{{1,2}}-\\d{{2}}') then try_strptime({dashed}, '{order}-%y')"
        )
    # nearly every cell of a machine-made file is a plain ISO day: that needs no pattern
    plain = f"when length({text}) = 10 and {text}[5] = '-' and {text}[8] = '-' then try_cast({text} as date)"
    # no calendar of the models has a year nought, though DuckDB's does
    none = f"when starts_with({text}, '0000') or ends_with({text}, '0000') then null"
    return f"cast(case {none} {plain} {iso}{other} end as date)"


def _zone_text(raw: str, style: _Style) -> str:
    return f"coalesce(nullif(regexp_extract({raw}, '{_TIME}', 2), ''), {_text(style.zone)})"


def _instant(raw: str, style: _Style) -> str:
    day = _day(f"regexp_extract({raw}, '{_DAY_PART}', 1)", style)
    clock, zone = (f"regexp_extract({raw}, '{_TIME}', {i})" for i in (1, 2))
    local = f"(cast({day} as varchar) || ' ' || {clock})"
    offset = f"case {zone} when 'Z' then '+00' else {zone} end"
    zoned = f"timezone('UTC', try_cast({local} || {offset} as timestamptz))"
    unzoned = f"timezone('UTC', timezone({_text(style.zone)}, try_cast({local} as timestamp)))"
    looks = f"length({raw}) > {DAY_ALONE} and regexp_full_match({raw}, '[^T ]+{_TIME}')"
    return f"case when {looks} then case when {zone} <> '' then {zoned} else {unzoned} end end"


def _without_midnight(raw: str) -> str:
    """A day with 00:00:00 behind it is how a spreadsheet saves a day: no time was written."""
    return f"(case when length({raw}) > {DAY_ALONE} then regexp_replace({raw}, '{_MIDNIGHT}', '') else {raw} end)"


def _local_day(raw: str, at: str, style: _Style) -> str:
    """The day of a day alone, or of a time: as written, unless it was written in UTC. `at`: the instant read from it.

    Anything else behind the day is a fault, not ignored.
    """
    there = f"cast(timezone({_text(style.zone)}, timezone('UTC', {at})) as date)"
    written = _day(f"regexp_extract({raw}, '{_DAY_PART}', 1)", style)
    return (
        f"case when length({raw}) <= {DAY_ALONE} then {_day(raw, style)} when {at} is not null then "
        f"case when regexp_matches({raw}, '{_IN_UTC}') then {there} else {written} end end"
    )


OWN_COLUMN = "Doubts and notes may stand in a column of your own beside it, which is kept as it is."
# where the partner has a column for remarks
REMARKED = {
    "whole": "Write digits only, such as 12; put doubts and notes in the column “{heading}”.",
    "decimal": "Write digits only, such as 12.5; put units, doubts and notes in the column “{heading}”.",
}
WANTED = {
    "whole": ("a whole number", f"Write digits only, such as 12. {OWN_COLUMN}"),
    "decimal": ("a number", f"Write digits only, such as 12.5. {OWN_COLUMN}"),
    "day": ("a day", "Write the day as year-month-day, such as 2025-04-18."),
    "instant": (
        "a day and a time",
        "Write it as 2025-04-18 09:30; add the zone if it is not the programme's.",
    ),
    "yesno": ("yes or no", "Write yes or no."),
}


def cast_faults(
    typed: pa.Table,
    kind: Kind,
    part: PartMap,
    sheet: str,
    part_no: int,
    mark: str,
    why: Mapping[tuple[str, str], tuple[str, str, str]] = MappingProxyType({}),
) -> list[Fault]:
    """Every cell that has text but no value, as a Fault. `typed` is what `cast_sql` gave; `mark`: the decimal mark.

    why: (our column, text) -> code, what is wanted, what to do, where more is known than that it cannot be read.
    """
    faults = []
    names = set(typed.column_names)
    for column in kind.columns:
        raw = f"raw.{column.name}"
        if raw not in names or column.type == "text":
            continue
        uncast = pc.and_(pc.is_valid(typed.column(raw)), pc.is_null(typed.column(column.name)))
        if DAY_WILL_DO in names and column.name == kind.happened_from:
            uncast = pc.and_(uncast, pc.is_null(typed.column(DAY_WILL_DO)))
        if not pc.any(uncast).as_py():
            continue
        found = typed.select(["row", raw]).filter(uncast).sort_by("row")
        wanted, advice = WANTED[column.type]
        if (remarks := part.headings.get("remarks", "")) and column.type in REMARKED:
            advice = REMARKED[column.type].replace("{heading}", remarks)
        advice = advice.replace("12.5", f"12{mark}5")
        if unit := part.units.get(column.name, column.unit):
            wanted = f"{wanted} ({unit})"
        usual = (f"not {column.type}", wanted, advice)
        for row, text in zip(*(c.to_pylist() for c in found.columns), strict=True):
            code, wanted, advice = why.get((column.name, text), usual)
            heading = part.headings.get(column.name, "")
            faults.append(Fault(sheet, row, part_no, kind.name, column.name, heading, code, text, wanted, advice))
    return faults
