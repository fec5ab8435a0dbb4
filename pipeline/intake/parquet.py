"""Parquet: cells as our own text, days as 2025-04-18, instants with their zone, decimals with a point, nulls blank.

A column of parts (a struct) becomes a column for each part, named `position.latitude`; a list becomes its values with
semicolons between. Columns go by their place: names may be odd, alike, or stand there twice.
"""

from collections.abc import Iterator
from pathlib import Path

import pyarrow as pa
import pyarrow.parquet as pq

from pipeline.engine import connection
from pipeline.intake.limits import COLUMN_CHUNK, MOST_BYTES, batch_rows, check_rows, check_size, check_width
from pipeline.intake.sheet import PARQUET, Sheet, Unreadable

ROWS_OF = b"wrackline.rows_of"  # of evidence: the sheet its rows were in, and whether its cells were typed
TYPED = b"wrackline.typed"


def open_parquet(path: Path) -> Sheet:
    """The one sheet of a Parquet file. Unreadable when it is none or asks too much."""
    check_size(path, MOST_BYTES, "hand it in as several files")
    with pq.ParquetFile(path) as f:
        schema, meta = f.schema_arrow, f.metadata
    if not schema.names:
        raise Unreadable("it has no columns")
    check_rows(meta.num_rows)
    for group in range(meta.num_row_groups):
        for column in range(meta.num_columns):
            if meta.row_group(group).column(column).total_uncompressed_size > COLUMN_CHUNK:
                raise Unreadable("one of its row groups unfolds to more than is read; write it with smaller row groups")
    names = [name for name, _ in _leaves(schema)]
    check_width(len(names))
    notes = schema.metadata or {}
    return Sheet(
        notes.get(ROWS_OF, b"").decode("utf-8", "replace"), path, [names], native=notes.get(TYPED) != b"no", form=PARQUET,
        why=("Parquet: headings and types stand in the file.",),
    )  # fmt: skip


def rows_parquet(sheet: Sheet, width: int) -> Iterator[pa.Table]:
    """Rows as tables of `row` and c0 .. c{width-1}, never null. The first record is row 1."""
    with pq.ParquetFile(sheet.path) as f:
        schema = f.schema_arrow
    places = ", ".join(f"k{i}" for i in range(len(schema.names)))  # by place: two names may differ in case only
    query = f"select * from read_parquet($path, hive_partitioning=false) as t({places})"
    cells = ", ".join(f"coalesce({sql}, '') as c{i}" for i, (_, sql) in enumerate(_leaves(schema)[:width]))
    with connection() as con:
        at = 0
        read = con.sql(f"select {cells} from ({query})", params={"path": str(sheet.path)})
        for batch in read.to_arrow_reader(batch_rows(width)):
            numbers = pa.array(range(at + 1, at + 1 + batch.num_rows), pa.int64())
            at += batch.num_rows
            yield pa.Table.from_batches([batch]).add_column(0, "row", numbers)


def _leaves(schema: pa.Schema) -> list[tuple[str, str]]:
    """(heading, SQL of its text) of every column, those of parts taken apart."""
    found: list[tuple[str, str]] = []
    for i, column in enumerate(schema):
        found += _parts(str(column.name), f"k{i}", column.type)
    return found


def _parts(name: str, sql: str, type_: pa.DataType) -> list[tuple[str, str]]:
    if isinstance(type_, pa.BaseExtensionType):
        type_ = type_.storage_type
    if pa.types.is_struct(type_) and type_.num_fields:
        found = []
        for i in range(type_.num_fields):
            inner = type_.field(i)
            found += _parts(f"{name}.{inner.name}", f"struct_extract_at({sql}, {i + 1})", inner.type)
        return found
    return [(name, _text(sql, type_))]


def _text(sql: str, type_: pa.DataType) -> str:
    """SQL of a cell's text."""
    if pa.types.is_dictionary(type_):
        type_ = type_.value_type
    if pa.types.is_timestamp(type_) and type_.unit == "ns" and type_.tz is None:
        return f"cast(cast({sql} as timestamp) as varchar)"  # to the microsecond, as people may write it
    if pa.types.is_binary(type_) or pa.types.is_large_binary(type_) or pa.types.is_binary_view(type_):
        return f"coalesce(try(decode({sql})), cast({sql} as varchar))"  # text that was not declared as text
    if pa.types.is_list(type_) or pa.types.is_large_list(type_) or pa.types.is_fixed_size_list(type_):
        return f"array_to_string(cast({sql} as varchar[]), '; ')"
    return f"cast({sql} as varchar)"
