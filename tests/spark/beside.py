"""Each view on Spark, given what DuckDB says its inputs are, beside what DuckDB says the view is: who differs is known at once.

Views handed over as rows make small plans; as one chain over the segments they would take Spark ten times as long.
"""

import datetime as dt
import math
from collections.abc import Sequence
from typing import Any

import duckdb
from pyspark.sql import SparkSession

from warehouse.asking import make_view
from warehouse.spark import SparkViews, tables_named
from warehouse.sqlfiles import View

Rows = list[tuple[Any, ...]]


class Beside:
    """A DuckDB session whose every view and query is asked of Spark too; `apart` fills with what differs."""

    def __init__(self, con: duckdb.DuckDBPyConnection, spark: SparkSession) -> None:
        """con: base tables and settings are there, no view yet."""
        self.con, self.spark, self.views = con, spark, SparkViews(spark, small=True)
        self.handed: set[str] = set()
        self.following: set[str] = {"as_of"}  # what is another once the last day is known
        self.compared: dict[str, int] = {}
        self.apart: dict[str, str] = {}

    def make(self, view: View) -> None:
        """Make the view in DuckDB and compare."""
        make_view(self.con, view)
        if not view.kept:
            self.following.add(view.name)
        self.compare(view.name, view.sql, f"from {view.name}")

    def compare(self, name: str, sql: str, known: str = "") -> Rows:
        """Ask both; known: DuckDB's query for the same where it has the answer already."""
        for table in tables_named(sql):
            self._hand_over(table)
        here = self.con.sql(known or sql).fetchall()
        told = differing(sql, here, self.views.sql(sql).fetchall())
        self.compared[name] = len(here)
        if told:
            self.apart[name] = told
        return here

    def set_last_day(self, day: dt.date) -> None:
        """Count what happened by that day."""
        self.con.execute("update as_of set happened = $day", {"day": day})
        self.handed -= self.following

    def _hand_over(self, table: str) -> None:
        if table not in self.handed:
            rows = self.con.sql(f'from "{table}"')
            # a sum of whole numbers is wider in DuckDB than any of Spark's whole numbers
            columns = (
                f'cast("{c}" as bigint) as "{c}"' if str(t) == "HUGEINT" else f'"{c}"'
                for c, t in zip(rows.columns, rows.types, strict=True)
            )
            arrow = self.con.sql(f'select {", ".join(columns)} from "{table}"').to_arrow_table()
            self.spark.createDataFrame(arrow).coalesce(1).createOrReplaceTempView(table)
            self.handed.add(table)


def differing(query: str, one: Rows, other: Rows) -> str:
    """ "" where two engines gave the same: numbers that are exact to the last digit, doubles to the ninth."""
    if "order by all" not in query:
        one, other = sorted(one, key=_order), sorted(other, key=_order)
    if len(one) != len(other):
        return f"{len(one)} rows against {len(other)}: {_beside(one, other)}"
    apart = [f"{a} against {b}" for a, b in zip(one, other, strict=True) if not _alike(a, b)]
    return "; ".join(apart[:3])


def _order(row: tuple[Any, ...]) -> tuple[str, ...]:
    return tuple(f"{v:.6g}" if isinstance(v, float) else repr(v) for v in row)


def _alike(one: Sequence[Any], other: Sequence[Any]) -> bool:
    return len(one) == len(other) and all(
        math.isclose(a, b, rel_tol=1e-9, abs_tol=1e-9)
        if isinstance(a, float) and isinstance(b, float)
        else type(a) is type(b) and repr(a) == repr(b)
        for a, b in zip(one, other, strict=True)
    )


def _beside(one: Rows, other: Rows) -> str:
    return f"{[r for r in one if r not in other][:2]} only here, {[r for r in other if r not in one][:2]} only there"
