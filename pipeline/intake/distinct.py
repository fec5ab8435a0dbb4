"""Each distinct cell of a sheet is cast once: rows are squeezed to cells not seen before, and what all became is spread out again.

Most columns of a big file say few different things: days, places, species, counts. What one cell becomes depends on no
other cell, but for the few outputs that `cast.read_alone` leaves out.
"""

from collections.abc import Callable, Collection, Mapping

import duckdb
import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from pipeline.intake.cast import cast_sql, read_alone, with_visit_key
from pipeline.intake.reshape import Shape
from pipeline.intake.ways import SheetMap
from schemas.kinds import Kind

FEW = 4  # columns with fewer distinct cells than one in so many rows are squeezed
MOST = 20_000  # distinct cells of a column that are remembered
WORTH_IT = 2_000  # rows; fewer are cast sooner than squeezed


class Seen:
    """What distinct cells of a sheet became. Several threads may use one: what two of them find at once is found twice."""

    def __init__(self) -> None:
        self._became: dict[tuple[int, str | None], pa.Table] = {}  # part and column of `cells` -> text and its outputs

    def of(self, shape: Shape, cell: str | None) -> pa.Table | None:
        """Texts of that column and what they became; the one row of what is made of no cell."""
        return self._became.get((shape.first, cell))

    def note(self, shape: Shape, cell: str | None, became: pa.Table) -> None:
        """The same, with more texts."""
        self._became[shape.first, cell] = became


def cast_rows(
    con: duckdb.DuckDBPyConnection, cells: pa.Table, kind: Kind, sheet: SheetMap, shape: Shape, native: bool, zone: str,
    seen: Seen, worth_it: int = WORTH_IT,
) -> pa.Table:  # fmt: skip
    """What `cast_sql` makes of the rows, of distinct cells where there are few; texts come as dictionary arrays then.

    worth_it: rows from which that is done.
    """

    def cast(told: pa.Table, only: Collection[str] | None = None) -> pa.Table:
        return asked(con, told, "cells", cast_sql(kind, sheet, shape.part, shape.header, native, zone, only=only))

    cell_of = read_alone(kind, shape.part, shape.header) if cells.num_rows >= worth_it else None
    if cell_of is None:
        return cast(cells)
    rows = cells.num_rows
    coded = {c: _coded(cells.column(c)) for c in dict.fromkeys(cell_of.values()) if c is not None}
    few: dict[str | None, pa.DictionaryArray] = {c: d for c, d in coded.items() if len(d.dictionary) * FEW <= rows}
    few[None] = pa.repeat("", 1).dictionary_encode()
    became = _became(few, cell_of, shape, seen, cast)
    made = {"row": cells.column("row")}
    for cell, code in few.items():
        told = became[cell]
        own = told.take(pc.index_in(code.dictionary, value_set=told.column("text").combine_chunks())) if cell else told
        for name in own.column_names[1:]:
            made[name] = _spread(own.column(name), code.indices if cell else pa.repeat(pa.scalar(0, pa.int32()), rows))
    others = [name for name in cell_of if name not in made]
    if others:
        told = cast(cells, others)
        made |= {name: told.column(name) for name in others}
    typed = pa.table({name: made[name] for name in ("row", *cell_of)})
    if "visit_key" in kind.key and typed.column("visit_key").null_count:
        return asked(con, typed, "typed", with_visit_key(kind, "select * from typed"))
    return typed


def _became(
    few: Mapping[str | None, pa.DictionaryArray], cell_of: Mapping[str, str | None], shape: Shape, seen: Seen,
    cast: Callable[[pa.Table, Collection[str]], pa.Table],
) -> dict[str | None, pa.Table]:  # fmt: skip
    """What all of those cells became: `text` and the outputs of each column; those not seen before are cast now."""
    known, new = {c: seen.of(shape, c) for c in few}, dict[str | None, pa.Array]()
    for cell, code in few.items():
        before = known[cell]
        unseen = code.dictionary
        if before is not None:
            at = pc.index_in(unseen, value_set=before.column("text").combine_chunks())
            unseen = unseen.filter(pc.is_null(at))
            if before.num_rows + len(unseen) > MOST:
                known[cell], unseen = None, code.dictionary
        if len(unseen):
            new[cell] = unseen
    if new:
        made = cast(_squeezed(new, cell_of), [name for name, cell in cell_of.items() if cell in new])
        for cell, texts in new.items():
            outputs = {n: made.column(n).slice(0, len(texts)) for n, c in cell_of.items() if c == cell}
            told, before = pa.table({"text": texts, **outputs}), known[cell]
            known[cell] = told if before is None else pa.concat_tables([before, told]).combine_chunks()
            seen.note(shape, cell, known[cell])
    return {cell: told for cell, told in known.items() if told is not None}


def asked(con: duckdb.DuckDBPyConnection, table: pa.Table, name: str, sql: str) -> pa.Table:
    """What a query makes of a table that it knows by that name."""
    con.register(name, table)
    if table.num_rows < WORTH_IT:  # a relation is planned twice, which takes longer than so few rows
        con.execute(f"create or replace temp table made as {sql}")
        sql = "from made"
    made = con.sql(sql).to_arrow_table()
    con.unregister(name)
    return made


def _coded(column: pa.ChunkedArray) -> pa.DictionaryArray:
    whole = column.combine_chunks()
    return whole if pa.types.is_dictionary(whole.type) else pc.fill_null(whole, "").dictionary_encode()


def _squeezed(texts: Mapping[str | None, pa.Array], cell_of: Mapping[str, str | None]) -> pa.Table:
    """Cells of every column from the top; below them, and in the other columns, ""."""
    height = max(map(len, texts.values()))
    columns = {c: texts.get(c, pa.array([], pa.string())) for c in cell_of.values() if c is not None}
    padded = {c: pa.concat_arrays([t, pa.repeat("", height - len(t))]) for c, t in columns.items()}
    return pa.table({"row": pa.array(np.arange(height)), **padded})


def _spread(small: pa.ChunkedArray, places: pa.Array) -> pa.Array:
    """The values at those places. Texts that differ in all places are told by the places themselves."""
    whole = small.combine_chunks()
    if whole.null_count == len(whole):
        return pa.nulls(len(places), whole.type)
    if whole.type == pa.string() and not whole.null_count and len(whole.unique()) == len(whole):
        return pa.DictionaryArray.from_arrays(places, whole)
    return whole.take(places)


def written_out(table: pa.Table) -> pa.Table:
    """The same table without dictionary arrays."""
    for at, field in enumerate(table.schema):
        if pa.types.is_dictionary(field.type):
            table = table.set_column(at, field.name, table.column(at).cast(field.type.value_type))
    return table


def patched(typed: pa.Table, again: pa.Table) -> pa.Table:
    """The rows of `typed`, those that `again` has too as they are there."""
    at = pc.index_in(typed.column("row"), value_set=again.column("row").combine_chunks()).to_numpy()
    own = np.arange(typed.num_rows)
    places = np.where(np.isnan(at), own, typed.num_rows + np.nan_to_num(at)).astype(np.int64)
    return (
        pa.concat_tables([written_out(typed), again.select(typed.column_names)]).combine_chunks().take(pa.array(places))
    )
