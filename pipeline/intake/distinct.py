"""Each distinct cell is cast once: rows are squeezed to their distinct cells, and what these became is spread out again.

Most columns of a big file say few different things: days, places, species, counts. What one cell becomes depends on no
other cell, but for the few outputs that `cast.read_alone` leaves out.
"""

from collections.abc import Collection, Mapping

import duckdb
import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from pipeline.intake.cast import cast_sql, read_alone, with_visit_key
from pipeline.intake.reshape import Shape
from pipeline.intake.ways import SheetMap
from schemas.kinds import Kind

FEW = 4  # columns with fewer distinct cells than one in so many rows are squeezed
WORTH_IT = 2_000  # rows; fewer are cast sooner than squeezed


def cast_rows(
    con: duckdb.DuckDBPyConnection, cells: pa.Table, kind: Kind, sheet: SheetMap, shape: Shape, native: bool, zone: str,
    worth_it: int = WORTH_IT,
) -> pa.Table:  # fmt: skip
    """What `cast_sql` makes of the rows, of distinct cells where there are few. worth_it: rows from which that is done."""

    def cast(told: pa.Table, only: Collection[str] | None = None) -> pa.Table:
        return asked(con, told, "cells", cast_sql(kind, sheet, shape.part, shape.header, native, zone, only=only))

    cell_of = read_alone(kind, shape.part, shape.header) if cells.num_rows >= worth_it else None
    if cell_of is None:
        return cast(cells)
    rows = cells.num_rows
    coded = {c: _coded(cells.column(c)) for c in dict.fromkeys(cell_of.values()) if c is not None}
    few = {c: code for c, code in coded.items() if len(code.dictionary) * FEW <= rows}
    alone = [name for name, cell in cell_of.items() if cell is None or cell in few]
    others = [name for name in cell_of if name not in alone]
    made = {"row": cells.column("row")}
    small = cast(_squeezed(few), alone)
    for name in alone:
        cell = cell_of[name]
        made[name] = _spread(small.column(name), few[cell].indices if cell else None, rows)
    if others:
        told = cast(cells, others)
        made |= {name: told.column(name) for name in others}
    typed = pa.table({name: made[name] for name in ("row", *cell_of)})
    if "visit_key" in kind.key and typed.column("visit_key").null_count:
        return asked(con, typed, "typed", with_visit_key(kind, "select * from typed"))
    return typed


def asked(con: duckdb.DuckDBPyConnection, table: pa.Table, name: str, sql: str) -> pa.Table:
    """What a query makes of a table that it knows by that name."""
    con.register(name, table)
    made = con.sql(sql).to_arrow_table()
    con.unregister(name)
    return made


def _coded(column: pa.ChunkedArray) -> pa.DictionaryArray:
    whole = column.combine_chunks() if column.num_chunks != 1 else column.chunk(0)
    return pc.fill_null(whole, "").dictionary_encode()


def _squeezed(few: Mapping[str, pa.DictionaryArray]) -> pa.Table:
    """The distinct cells of every column from the top; below them "" down to the longest."""
    height = max((len(c.dictionary) for c in few.values()), default=1)
    columns = {
        name: pa.concat_arrays([c.dictionary, pa.repeat("", height - len(c.dictionary))]) for name, c in few.items()
    }
    return pa.table({"row": pa.array(np.arange(height)), **columns})


def _spread(small: pa.ChunkedArray, places: pa.Array | None, rows: int) -> pa.Array:
    whole = small.combine_chunks()
    if whole.null_count == len(whole):
        return pa.nulls(rows, whole.type)
    return pa.repeat(whole[0], rows) if places is None else whole.take(places)


def patched(typed: pa.Table, again: pa.Table) -> pa.Table:
    """The rows of `typed`, those that `again` has too as they are there."""
    at = pc.index_in(typed.column("row"), value_set=again.column("row").combine_chunks()).to_numpy()
    own = np.arange(typed.num_rows)
    places = np.where(np.isnan(at), own, typed.num_rows + np.nan_to_num(at)).astype(np.int64)
    return pa.concat_tables([typed, again.select(typed.column_names)]).combine_chunks().take(pa.array(places))
