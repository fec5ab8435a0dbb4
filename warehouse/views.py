"""What the groups of indicators ask of an engine in which the views stand: that a query gives rows. DuckDB and Spark both do."""

from typing import Any, Protocol


class Answer(Protocol):
    """What a query gave."""

    def fetchall(self) -> list[tuple[Any, ...]]:
        """All of its rows, as plain values: int, Decimal, float, str, bool, date, naive datetime in UTC, None."""


class Views(Protocol):
    """A session in which every view can be asked: DuckDB's of `warehouse.database`, or Spark's of `warehouse.spark`."""

    def sql(self, query: str) -> Answer:
        """What a query over the views gives, written in the subset that both engines read alike."""
