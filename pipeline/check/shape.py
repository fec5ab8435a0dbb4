"""Typed rows against their kind's pandera model: every row x column x reason comes out as a Fault."""

from collections.abc import Mapping
from typing import Any

import pandera.errors
import polars as pl
import pyarrow as pa

from pipeline.check.words import advice_for, wanted_for
from pipeline.faults import Fault
from schemas.kinds import Kind


def check_shape(
    typed: pa.Table,
    kind: Kind,
    headings: Mapping[str, str],
    sheet: str,
    part_no: int,
    uncast: set[tuple[int, str]],
) -> list[Fault]:
    """Faults of rows that do not fit their kind.

    typed: `row`, every column of the kind, and `raw.<column>` where the sheet had text. headings: our column ->
    the partner's. uncast: (row, column) that failed to be cast, so that a missing value is not blamed twice.
    """
    frame = pl.from_arrow(typed)
    assert isinstance(frame, pl.DataFrame)
    numbers = frame["row"]
    try:
        kind.schema.validate(frame.select([c.name for c in kind.columns]), lazy=True)
    except pandera.errors.SchemaErrors as e:
        cases = e.failure_cases
    else:
        return []
    faults = []
    for case in cases.iter_rows(named=True):
        if case["index"] is None:  # the model and the cast disagree about a type: our bug, never a partner's
            raise AssertionError(f"{kind.name}: {case['check']} on {case['column']}: {case['failure_case']}")
        at = int(case["index"])
        row = int(numbers[at])
        whole_row = case["schema_context"] == "DataFrameSchema"
        column = "" if whole_row else str(case["column"])
        if (row, column) in uncast or (column == "visit_key" and f"raw.{column}" not in frame.columns):
            continue  # already told, or made from cells that are told themselves
        found = "" if whole_row else _found(frame, at, column)
        check = str(case["check"])
        faults.append(
            Fault(sheet, row, part_no, kind.name, column, headings.get(column, ""),
                  "blank" if check == "not_nullable" else check.split("(", maxsplit=1)[0], found,
                  wanted_for(kind, column, check), advice_for(kind, column, check, headings.get(column, "")))
        )  # fmt: skip
    return faults


def _found(frame: pl.DataFrame, at: int, column: str) -> str:
    """The cell as its owner wrote it, or our value when it came from elsewhere."""
    raw = f"raw.{column}"
    value: Any = frame[raw][at] if raw in frame.columns else None
    value = frame[column][at] if value is None else value
    return "" if value is None else str(value)
