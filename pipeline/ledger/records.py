"""A drop's rows as they were read: sheet, row, and a text a cell. Each is stored once; parts and events name its row.

Two forms: `cells` as a list (version 1, and still that of very wide sheets), and a column a cell (version 2), which is written
in half the time. c0, c1 ... are those of the widest sheet; beyond a sheet's own cells they are null, which no cell is.
"""

from collections.abc import Collection, Sequence
from pathlib import Path

import pyarrow as pa
import pyarrow.parquet as pq

TEXTS = pa.dictionary(pa.int32(), pa.string())  # few of them, many times
AS_LIST, AS_COLUMNS = 1, 2
MOST_COLUMNS = 500  # more columns of a few rows each cost more to write than what they spare


def version(width: int) -> int:
    """The form in which rows of so many cells at most are written."""
    return AS_COLUMNS if width <= MOST_COLUMNS else AS_LIST


def table_of(sheets: pa.Array, rows: pa.ChunkedArray, cells: Sequence[pa.DictionaryArray], width: int) -> pa.Table:
    """Rows of a sheet as they are stored. sheets: its name, once a row; cells: a dictionary array a column; width: the
    widest sheet's."""
    if version(width) == AS_LIST:
        return pa.table({"sheet": sheets, "row": rows, "cells": _listed(cells)})
    blank = pa.DictionaryArray.from_arrays(pa.nulls(len(sheets), pa.int32()), pa.array([], pa.string()))
    every = [*cells, *[blank] * (width - len(cells))]
    return pa.table([sheets, rows, *every], names=["sheet", "row", *(f"c{i}" for i in range(width))])


def _listed(cells: Sequence[pa.DictionaryArray]) -> pa.ListArray:
    import numpy as np

    one = pa.chunked_array(cells, TEXTS).unify_dictionaries().chunks
    places = pa.array(np.stack([c.indices for c in one], axis=1).ravel())
    offsets = pa.array(np.arange(0, len(places) + 1, len(cells), dtype=np.int32))
    return pa.ListArray.from_arrays(offsets, pa.DictionaryArray.from_arrays(places, one[0].dictionary))


def rows_of(path: Path, sheet: str, wanted: Collection[int] | None = None) -> dict[int, list[str]]:
    """The cells of a sheet's rows, by row and in order, as they were read. wanted: only these rows; None: all."""
    asked: list[tuple[str, str, object]] = [("sheet", "==", sheet)]
    asked += [] if wanted is None else [("row", "in", set(wanted))]
    table = pq.read_table(path, filters=asked).sort_by("row")
    rows = table.column("row").to_pylist()
    if "cells" in table.column_names:
        return {n: [c or "" for c in cells] for n, cells in zip(rows, table.column("cells").to_pylist(), strict=True)}
    own = [c.to_pylist() for c in table.columns[2:] if not c.null_count]  # beyond its own columns a sheet has none
    return dict(zip(rows, map(list, zip(*own, strict=True)), strict=True)) if own else {n: [] for n in rows}
