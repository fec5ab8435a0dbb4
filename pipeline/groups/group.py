"""What every group of indicators gives: its figures, and for each of them the rows it rests on."""

from collections.abc import Sequence
from typing import Any, NamedTuple, Protocol

from pipeline.indicators.catalogue import Indicator
from pipeline.indicators.figure import Figure
from pipeline.indicators.remember import Memory
from pipeline.programme import Rules
from warehouse.views import Views


class Question(NamedTuple):
    """Rows behind a figure: their role (counted or beside), their kind, and SQL that gives their `identity`.

    The SQL may use $site (null for all sites) and the other names of a figure's scope, each as text.
    """

    role: str
    kind: str
    sql: str


class Known(Protocol):
    """What every module of this folder tells of its indicators."""

    @property
    def ENTRIES(self) -> Sequence[Indicator]:  # noqa: N802 - a constant of the module
        """Its part of the catalogue."""

    def behind(self, figure: Figure) -> list[Question]:
        """Where the rows are that the figure rests on."""

    def missing(self, figure: Figure) -> str:
        """SQL (entry, sheet, row, part) of what is held, in dispute or withdrawn and so not in the figure; "" when nothing can be."""


class Group(Known, Protocol):
    """A module whose figures rest on events alone."""

    def figures(self, con: Views, rules: Rules, memory: Memory) -> list[Figure]:
        """Every figure of these indicators. con: the views, on whichever engine."""


class Later(Known, Protocol):
    """A module whose figures rest on those of other groups."""

    def figures(self, con: Views, rules: Rules, memory: Memory, made: Sequence[Figure]) -> list[Figure]:
        """As of a `Group`. made: the figures of all groups."""


def rows(con: Views, query: str) -> list[tuple[Any, ...]]:
    """What a query gives."""
    return con.sql(query).fetchall()
