"""The views on Spark: the same SQL files over the same segments, for a ledger that outgrows one machine.

Spark is given no definition of its own: each query and view is read as DuckDB's and written in Spark's dialect by
sqlglot. Constructs whose meaning changes on the way are refused in the views by tests/test_house.py.
"""

import datetime as dt
from collections.abc import Mapping, Sequence
from functools import cache
from typing import TYPE_CHECKING, Any

import duckdb
import pyarrow as pa
import sqlglot
from pyspark.sql import DataFrame, SparkSession
from sqlglot import exp

from warehouse.appending import append_entries
from warehouse.database import CONFIG, Load, RuleTables, make_settings, make_tables, make_views
from warehouse.spark_tables import from_segments
from warehouse.sqlfiles import View

if TYPE_CHECKING:  # see database.py
    from schemas.kinds import Kind

# what the views take for granted, whoever configured the session
MEANINGS = {
    "spark.sql.session.timeZone": "UTC",
    "spark.sql.timestampType": "TIMESTAMP_NTZ",  # instants are naive and in UTC, as in the segments
    "spark.sql.ansi.enabled": "true",  # a number that does not fit stops the run; it never becomes null
    "spark.sql.caseSensitive": "false",
    "spark.sql.icu.caseMappings.enabled": "false",  # nearer to DuckDB's small letters, and far sooner made
    # Spark 4.3 stops (key not found) when it works out what holds of a union whose rows it is to keep
    "spark.sql.constraintPropagation.enabled": "false",
}
# How a ledger is asked that one thread reads at once: nearly all the time goes into what Spark does before it reads.
SMALL = {
    "spark.sql.adaptive.enabled": "false",
    "spark.sql.codegen.wholeStage": "false",
    "spark.sql.codegen.factoryMode": "NO_CODEGEN",
    "spark.sql.shuffle.partitions": "1",
    "spark.sql.autoBroadcastJoinThreshold": "200",  # bytes; a job less for every join, but one row is still sent
    "spark.sql.maxSinglePartitionBytes": "9223372036854775807b",  # what lies in one place is joined there
    "spark.sql.optimizer.runtime.bloomFilter.enabled": "false",
}
CHECKPOINTS = "spark.checkpoint.dir"


class SparkAnswer:
    """What Spark gave to a query."""

    def __init__(self, frame: DataFrame) -> None:
        """frame: not computed yet."""
        self._frame = frame

    def fetchall(self) -> list[tuple[Any, ...]]:
        """All of its rows, through Arrow, as DuckDB would give them."""
        return rows_of(self._frame.toArrow())


class SparkViews:
    """A Spark session in which base tables, settings and views stand, asked as DuckDB is."""

    def __init__(self, spark: SparkSession, small: bool) -> None:
        """spark: a session that nobody else uses, since the names of the views are its own. small: see SMALL.

        standing: the views that are computed, as of what was set last.
        """
        self.spark, self._small = spark, small
        self._defined: dict[str, View] = {}
        self.standing: set[str] = set()
        for name, value in (MEANINGS | SMALL if small else MEANINGS).items():
            spark.conf.set(name, value)

    def sql(self, query: str) -> SparkAnswer:
        """What a query in the portable subset gives."""
        return SparkAnswer(self.frame(query))

    def frame(self, query: str) -> DataFrame:
        """The same, to be computed where it is needed."""
        for name in tables_named(query):
            if name in self._defined and name not in self.standing:
                self.make_view(self._defined[name])
        return self.spark.sql(to_spark(query))

    def set_as_of(self, happened: dt.date, register_day: dt.date, entry: int) -> None:
        """As of when: one row of constants, which Spark puts into its plans as they are."""
        self.frame(
            f"select cast('{happened}' as date) as happened, cast('{register_day}' as date) as register_day, "
            f"cast({entry} as bigint) as entry"
        ).createOrReplaceTempView("as_of")
        self.standing = {name for name in self.standing if self._defined[name].kept}

    def define(self, view: View) -> None:
        """A view that is kept is computed now; any other when it is first asked for."""
        self._defined[view.name] = view
        if view.kept:
            self.make_view(view)

    def make_view(self, view: View) -> None:
        """Make one view, computed now, kept or not: what it was made from is forgotten.

        As one chain over the segments, views took Spark longer to plan than to compute, the later the longer.
        """
        self._computed(self.frame(view.sql)).createOrReplaceTempView(view.name)
        self.standing.add(view.name)

    def _computed(self, frame: DataFrame) -> DataFrame:
        """On the executors, or where the cluster keeps checkpoints: those outlive an executor that is taken away."""
        if self._small:
            return in_one_place(self.spark, frame)
        return frame.checkpoint() if self.spark.conf.get(CHECKPOINTS, "") else frame.localCheckpoint()


def rows_of(table: pa.Table) -> list[tuple[Any, ...]]:
    """The rows of an Arrow table, as plain values."""
    return list(zip(*(column.to_pylist() for column in table.columns), strict=True))


def in_one_place(spark: SparkSession, frame: DataFrame) -> DataFrame:
    """The rows of a small frame, computed now, as rows that Spark knows to be few."""
    return spark.createDataFrame(frame.toArrow()).coalesce(1)


def to_spark(sql: str) -> str:
    """The same query in Spark's dialect."""
    return _read(sql)[0]


def tables_named(sql: str) -> list[str]:
    """Every table and view that a query names, in order; those that it makes for itself are none."""
    return _read(sql)[1]


@cache
def _read(sql: str) -> tuple[str, list[str]]:
    tree = sqlglot.parse_one(sql, read="duckdb")
    named = {table.name for table in tree.find_all(exp.Table)} - {cte.alias for cte in tree.find_all(exp.CTE)}
    return tree.sql("spark", unsupported_level=sqlglot.ErrorLevel.RAISE, comments=False), sorted(named)


def make_all(
    spark: SparkSession,
    segments: str,
    loads: Sequence[Load],
    kinds: "Mapping[str, Kind]",
    rules: RuleTables,
    happened: dt.date | None,
    entry: int | None,
    views: Sequence[View],
    small: bool,
) -> SparkViews:
    """Every view in a Spark session, as of (happened, entry); None means the last there is.

    segments: the folder or address below which the ledger's segments lie, as Spark reads it. What is small (entries,
    the programme's rules) is made by DuckDB as ever and handed over. small: whether one task may hold all of it.
    """
    made = SparkViews(spark, small)
    with duckdb.connect(config=CONFIG) as db:
        make_tables(db, kinds)
        append_entries(db, loads)
        make_settings(db, kinds, rules, happened, entry)
        [(day, register_day, last)] = db.sql("select happened, register_day, entry from as_of").fetchall()
        made.set_as_of(day, register_day, last)
        for name in ("entry", "contradicts", "shared_kind", *rules.tables):
            table = spark.createDataFrame(db.sql(f"from {name}").to_arrow_table())
            (table.coalesce(1) if small else table).createOrReplaceTempView(name)
        for name, frame in from_segments(spark, db, segments, loads, kinds, to_spark):
            (in_one_place(spark, frame) if small else frame.cache()).createOrReplaceTempView(name)
    make_views(made, kinds, happened, views, made.define, lambda day: made.set_as_of(day, register_day, last))
    return made
