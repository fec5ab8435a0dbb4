"""The views on Spark: the same SQL files over the same segments, for a ledger that outgrows one machine.

Spark is given no definition of its own: each query and view is read as DuckDB's and written in Spark's dialect by
sqlglot. Constructs whose meaning changes on the way are refused in the views by tests/test_house.py.
"""

import datetime as dt
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

import duckdb
import sqlglot
from pyspark.sql import DataFrame, SparkSession

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
}
CHECKPOINTS = "spark.checkpoint.dir"


class SparkAnswer:
    """What Spark gave to a query."""

    def __init__(self, frame: DataFrame) -> None:
        """frame: not computed yet."""
        self._frame = frame

    def fetchall(self) -> list[tuple[Any, ...]]:
        """All of its rows, through Arrow, as DuckDB would give them."""
        table = self._frame.toArrow()
        return list(zip(*(column.to_pylist() for column in table.columns), strict=True))


class SparkViews:
    """A Spark session in which base tables, settings and views stand, asked as DuckDB is."""

    def __init__(self, spark: SparkSession) -> None:
        """spark: a session that nobody else uses, since the names of the views are its own."""
        self.spark = spark
        for name, value in MEANINGS.items():
            spark.conf.set(name, value)

    def sql(self, query: str) -> SparkAnswer:
        """What a query in the portable subset gives."""
        return SparkAnswer(self.frame(query))

    def frame(self, query: str) -> DataFrame:
        """The same, to be computed where it is needed."""
        return self.spark.sql(to_spark(query))

    def make_view(self, view: View) -> None:
        """Make one view, computed now, kept or not: what it was made from is forgotten.

        As one chain over the segments, views took Spark longer to plan than to compute, the later the longer.
        """
        self._computed(self.frame(view.sql)).createOrReplaceTempView(view.name)

    def _computed(self, frame: DataFrame) -> DataFrame:
        """On the executors, or where the cluster keeps checkpoints: those outlive an executor that is taken away."""
        return frame.checkpoint() if self.spark.conf.get(CHECKPOINTS, "") else frame.localCheckpoint()


def to_spark(sql: str) -> str:
    """The same query in Spark's dialect."""
    [written] = sqlglot.transpile(
        sql, read="duckdb", write="spark", unsupported_level=sqlglot.ErrorLevel.RAISE, comments=False
    )
    return written


def make_all(
    spark: SparkSession,
    segments: str,
    loads: Sequence[Load],
    kinds: "Mapping[str, Kind]",
    rules: RuleTables,
    happened: dt.date | None,
    entry: int | None,
    views: Sequence[View],
) -> SparkViews:
    """Every view in a Spark session, as of (happened, entry); None means the last there is.

    segments: the folder or address below which the ledger's segments lie, as Spark reads it. What is small (entries,
    the programme's rules) is made by DuckDB as ever and handed over.
    """
    made = SparkViews(spark)
    with duckdb.connect(config=CONFIG) as small:
        make_tables(small, kinds)
        append_entries(small, loads)
        make_settings(small, kinds, rules, happened, entry)
        for name in ("entry", "contradicts", "as_of", "shared_kind", *rules.tables):
            spark.createDataFrame(small.sql(f"from {name}").to_arrow_table()).createOrReplaceTempView(name)
        for name, frame in from_segments(spark, small, segments, loads, kinds, to_spark):
            frame.createOrReplaceTempView(name)
    done: list[View] = []

    def make(view: View) -> None:
        made.make_view(view)
        done.append(view)

    def set_last_day(day: dt.date) -> None:
        # Spark's views hold what stood when they were made: those that DuckDB would ask anew are made over the new day
        [(register_day, last)] = made.sql("select register_day, entry from as_of").fetchall()
        made.frame(
            f"select cast('{day}' as date) as happened, cast('{register_day}' as date) as register_day, {last} as entry"
        ).createOrReplaceTempView("as_of")
        for view in done:
            if not view.kept:
                made.make_view(view)

    make_views(made, kinds, happened, views, make, set_last_day)
    return made
