"""Typed rows against their kind's pandera model: every row x column x reason comes out as a Fault."""

from collections.abc import Mapping
from functools import cache
from typing import Any, NamedTuple

import polars as pl
import pyarrow as pa

from pipeline.check.suspects import asked_by, frame_of, suspects
from pipeline.check.words import Unit, advice_for, code_of, wanted_for
from pipeline.faults import Fault
from schemas.kinds import Kind, all_kinds
from schemas.library import SchemaErrors


def check_shape(
    typed: pa.Table,
    kind: Kind,
    headings: Mapping[str, str],
    sheet: str,
    part_no: int,
    uncast: set[tuple[int, str]],
    codes: Mapping[str, Mapping[str, str]] | None = None,
    units: Mapping[str, Unit] | None = None,
) -> list[Fault]:
    """Faults of rows that do not fit their kind.

    typed: `row`, every column of the kind, and `raw.<column>` where the sheet had text. headings: our column ->
    the partner's. uncast: (row, column) that failed to be cast, so that a missing value is not blamed twice.
    codes: our column -> the partner's words for ours, so that it is asked for words that it knows; units: the units that
    it writes where they are not ours.
    """
    names = [c.name for c in kind.columns]
    filled = frozenset(n for n in names if typed.column(n).null_count < typed.num_rows)
    may_fail = suspects(typed, kind, filled)
    if not may_fail.any() and _types_fit(kind.name, filled, tuple(frame_of(typed.slice(0, 0), names).schema.items())):
        return []
    frame = frame_of(typed.filter(may_fail.to_arrow()))
    numbers = frame["row"]
    try:
        _needed(kind.name, filled).validate(frame.select(names), lazy=True)
    except SchemaErrors as e:
        cases = e.failure_cases
    else:
        return []
    failed = [_failed(case, numbers, kind, headings) for case in cases.iter_rows(named=True)]
    told = {(f.row, f.column) for f in failed} | uncast
    reads = {check.error: asked_by(check, "*").columns for check in kind.schema.checks}
    return [
        Fault(sheet, f.row, part_no, kind.name, f.column, headings.get(f.column, ""), code_of(f.check),
              _found(frame, f.at, f.column) if f.column else "", wanted_for(kind, f.column, f.check, (codes or {}).get(f.column, {}), (units or {}).get(f.column)),
              advice_for(kind, f.column, f.check, headings, reads.get(f.check, ()), (codes or {}).get(f.column, {}),
                         (units or {}).get(f.column)))
        for f in dict.fromkeys(failed) if not _told_otherwise(f, told, uncast, reads)
    ]  # fmt: skip


@cache
def _needed(kind: str, filled: frozenset[str]) -> Any:
    """The kind's model without the checks of optional columns that are blank in every row: they would all pass."""
    model = all_kinds()[kind]
    blank = [c.name for c in model.columns if not c.required and c.name not in filled]
    schema = model.schema.remove_columns(blank)
    schema.strict = False
    return schema


@cache
def _types_fit(kind: str, filled: frozenset[str], types: tuple[tuple[str, Any], ...]) -> bool:
    """Whether columns of those types are the kind's: asked once, of no row."""
    try:
        _needed(kind, filled).validate(pl.DataFrame(schema=dict(types)), lazy=True)
    except SchemaErrors:
        return False
    return True


class _Failed(NamedTuple):
    """One failed check: `at` is the place in the frame, `column` is "" for a rule of the whole row."""

    at: int
    row: int
    column: str
    check: str


def _failed(case: dict[str, Any], numbers: pl.Series, kind: Kind, headings: Mapping[str, str]) -> _Failed:
    if case["index"] is None:  # the model and the cast disagree about a type: our bug, never a partner's
        raise AssertionError(f"{case['check']} on {case['column']}: {case['failure_case']}")
    at, check = int(case["index"]), str(case["check"])
    column = "" if case["schema_context"] == "DataFrameSchema" else str(case["column"])
    if (column, check) == ("happened", "not_nullable") and kind.happened_from and not headings.get("happened"):
        column = kind.happened_from  # the day is made from the time that stands in the sheet
    return _Failed(at, int(numbers[at]), column, check)


def _told_otherwise(
    f: _Failed, told: set[tuple[int, str]], uncast: set[tuple[int, str]], reads: Mapping[str, tuple[str, ...]]
) -> bool:
    """Whether the partner is told of this by another fault, which will mend this one too."""
    if (f.column, f.check) == ("visit_key", "not_nullable"):  # a dive's code is made from these
        return bool(told & {(f.row, "site_key"), (f.row, "happened")})
    cells = (f.column,) if f.column else reads[f.check]
    return any((f.row, c) in uncast for c in cells)


def _found(frame: pl.DataFrame, at: int, column: str) -> str:
    """The cell as its owner wrote it, or our value when it came from elsewhere."""
    raw = f"raw.{column}"
    value: Any = frame[raw][at] if raw in frame.columns else None
    value = frame[column][at] if value is None else value
    return "" if value is None else str(value)
