"""Which rows may be at fault: a column's checks are asked of each distinct cell once, and rules of a row of all rows.

pandera alone says what is wrong with a row; most rows of a big file need not be shown to it, since nothing can be.
"""

from collections.abc import Collection, Mapping, Sequence
from functools import cache
from typing import Any, NamedTuple

import polars as pl
import pyarrow as pa

from schemas.kinds import Kind, all_kinds
from schemas.library import PolarsData


class _Asked(NamedTuple):
    """A check as polars computes it: true where it passes, null where it has nothing to look at."""

    columns: tuple[str, ...]
    passes: pl.Expr


def suspects(typed: pa.Table, kind: Kind, filled: Collection[str]) -> pl.Series:
    """Whether some check of its kind may fail, for each of the rows. filled: columns that are not blank in every row."""
    at_fault = pl.Series([False]).new_from_index(0, typed.num_rows)
    for column in kind.columns:
        if column.required and typed.column(column.name).null_count:
            at_fault |= frame_of(typed, [column.name])[column.name].is_null()
    cells, rows = _checks(kind.name)
    distinct = _side_by_side({name: _distinct(typed.column(name)) for name in cells if name in filled})
    told = distinct.select(cells[name].alias(name) for name in distinct.columns)
    for name in distinct.columns:
        if not told[name].all():
            bad = distinct[name].filter(~told[name])
            at_fault |= frame_of(typed, [name])[name].is_in(bad.implode(), nulls_equal=True)
    for rule in rows:
        if set(rule.columns) & set(filled):
            at_fault |= ~frame_of(typed, rule.columns).select(rule.passes.alias("passes")).to_series()
    return at_fault


def frame_of(table: pa.Table, names: Sequence[str] | None = None) -> pl.DataFrame:
    """Those columns (all, unless told) as the models see them: texts written out."""
    some = table if names is None else table.select(names)
    plain = [f.with_type(f.type.value_type) if pa.types.is_dictionary(f.type) else f for f in some.schema]
    frame = pl.from_arrow(some.cast(pa.schema(plain)))
    assert isinstance(frame, pl.DataFrame)
    return frame


def _distinct(column: pa.ChunkedArray) -> pa.Array:
    """Every cell of a column at least once, and perhaps some that stand in none of these rows."""
    return column.combine_chunks().dictionary if pa.types.is_dictionary(column.type) else column.unique()


def _side_by_side(columns: Mapping[str, pa.Array | pa.ChunkedArray]) -> pl.DataFrame:
    """Columns of different lengths as one frame, to be asked about once; blanks below the shorter ones pass every check."""
    height = max(map(len, columns.values()), default=0)
    padded = {
        name: pa.chunked_array(
            [*(c.chunks if isinstance(c, pa.ChunkedArray) else [c]), pa.nulls(height - len(c), c.type)]
        )
        for name, c in columns.items()
    }
    return frame_of(pa.table(padded))


@cache
def _checks(kind: str) -> tuple[dict[str, pl.Expr], tuple[_Asked, ...]]:
    """What the kind's model checks: of each column, and of a whole row."""
    schema = all_kinds()[kind].schema
    cells = {
        str(name): pl.all_horizontal([asked_by(check, str(name)).passes for check in column.checks])
        for name, column in schema.columns.items()
        if column.checks
    }
    return cells, tuple(asked_by(check, "*") for check in schema.checks)


def asked_by(check: Any, column: str) -> _Asked:
    """What a check computes, and of which columns: it is asked with a frame that only listens. column: "*" for the whole row."""
    heard: list[pl.Expr] = []

    class Listening:  # as a frame does as far as a check is concerned
        def select(self, *rules: pl.Expr) -> None:
            heard.extend(rules)

    listening: Any = Listening()
    check._check_fn(PolarsData(listening, column), **check._check_kwargs)
    names = tuple(dict.fromkeys(name for rule in heard for name in rule.meta.root_names()))
    assert check.ignore_na and heard, f"{check} cannot be asked of distinct cells"
    return _Asked(names, pl.all_horizontal([rule.fill_null(True) for rule in heard]))
