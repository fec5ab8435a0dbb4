"""The base tables on Spark: the ledger's segments read where they lie, each row with the entries that cite its file."""

from collections import defaultdict
from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import TYPE_CHECKING

import duckdb
import pyarrow as pa
from pyspark.errors import PySparkException
from pyspark.sql import DataFrame, SparkSession
from pyspark.sql import functions as f
from pyspark.sql.types import StructType

from schemas.upcasts import OTHER_SEGMENTS, UPCASTS, upcast_sql
from warehouse.appending import ERASED, TABLES, Cited

if TYPE_CHECKING:  # see database.py
    from schemas.kinds import Kind
    from warehouse.database import Load


def from_segments(
    spark: SparkSession,
    small: duckdb.DuckDBPyConnection,
    segments: str,
    loads: "Sequence[Load]",
    kinds: "Mapping[str, Kind]",
    to_spark: Callable[[str], str],
) -> Iterator[tuple[str, DataFrame]]:
    """Name and rows of every base table that is made of segments. small: where the same tables stand, empty.

    KeyError when a version's upcast is missing.
    """
    by_sort: dict[tuple[str, int], list[Cited]] = defaultdict(list)
    events: dict[str, list[Cited]] = defaultdict(list)
    for load in loads:
        for sort, path in load.segments.items():
            by_sort[sort, load.versions[sort]].append((path.name, load.number, load.partner))
            if sort in kinds and not load.whole:
                events[sort].append((path.name, load.number, load.partner))
    for sort in [*kinds, *TABLES]:
        name = TABLES.get(sort, f"{sort}_said")
        empty = spark.createDataFrame(small.sql(f"from {name}").to_arrow_table())
        newest = kinds[sort].version if sort in kinds else OTHER_SEGMENTS[sort]
        frame = empty
        for version in range(1, newest + 1):
            cited = by_sort.get((sort, version), [])
            if cited:
                rows = _rows(spark, f"{segments}/{sort}", cited, empty.schema, sort == "part", version == newest)
                if version < newest:
                    rows.createOrReplaceTempView("older")
                    rows = spark.sql(to_spark(f"select * from {upcast_sql(sort, version, newest, 'older', UPCASTS)} r"))
                frame = frame.unionByName(_shaped(rows, empty.schema))
        for kind, cited in events.items() if sort == "part" else ():
            rows = _rows(spark, f"{segments}/{kind}", cited, empty.drop("kind").schema, True, True)
            frame = frame.unionByName(_shaped(rows.withColumn("kind", f.lit(kind)), empty.schema))
        if sort == "fault" and (erased := [str(load.number) for load in loads if load.erased]):
            gone = spark.sql(to_spark(ERASED.format(entries=", ".join(erased))))
            frame = frame.unionByName(_shaped(gone, empty.schema))
        yield name, frame


def _rows(
    spark: SparkSession, folder: str, cited: Sequence[Cited], schema: StructType, named: bool, newest: bool
) -> DataFrame:
    """The rows of these files, each as often as it is cited. named: whose they are is told by the entry."""
    of_entry = {"entry", "partner"} if named else {"entry"}
    read = spark.read
    if newest:  # older versions have columns of their own
        read = read.schema(StructType([field for field in schema if field.name not in of_entry]))
    files = read.option("mergeSchema", not newest).parquet(*sorted({f"{folder}/{name}" for name, _, _ in cited}))
    names, entries, partners = zip(*cited, strict=True)
    by_file = pa.table({"from_file": names, "entry": pa.array(entries, pa.int64()), "partner": partners})
    if not named:
        by_file = by_file.drop_columns("partner")
    files = files.withColumn("from_file", f.col("_metadata.file_name"))
    return files.join(f.broadcast(spark.createDataFrame(by_file)), "from_file").drop("from_file")


def _shaped(rows: DataFrame, schema: StructType) -> DataFrame:
    """The columns of the table, those that were never told as null."""
    there = set(rows.columns)
    return rows.select(
        *((f.col(c.name) if c.name in there else f.lit(None)).cast(c.dataType).alias(c.name) for c in schema)
    )


def hashes(spark: SparkSession, segments: str, kinds: Sequence[str]) -> dict[str, str]:
    """Every segment's file below these folders and the SHA-256 of its bytes, computed where Spark reads them.

    OSError, in one line, when Spark cannot read there.
    """
    files = spark.read.format("binaryFile").option("pathGlobFilter", "*.parquet")
    try:
        told = (
            files.load([f"{segments}/{kind}" for kind in kinds])
            .select(f.element_at(f.split("path", "/"), -1).alias("file"), f.sha2("content", 256).alias("hash"))
            .toArrow()
        )
    except PySparkException as e:
        raise OSError(str(e).splitlines()[0]) from e
    return dict(zip(told["file"].to_pylist(), told["hash"].to_pylist(), strict=True))
