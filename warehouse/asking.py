"""A session in which each view is made when a query first names it: most questions need a few of two hundred."""

from collections.abc import Sequence
from typing import Any

import duckdb

from warehouse.sqlfiles import View, only_for


class Asking:
    """DuckDB's connection for whoever asks, with the views that nobody named yet kept back.

    Only the words of a query tell which views it needs, so one that is named by chance (a column of the same name) is
    made too, which takes its time and changes no answer. Tables of Arrow's are named by `register` alone: DuckDB does
    not see the caller's variables through this. Raises duckdb.Error as the connection does.
    """

    def __init__(self, con: duckdb.DuckDBPyConnection, views: Sequence[View]) -> None:
        """con: a connection with what the views read; views: in the order in which they can be made."""
        self._con, self._unmade = con, list(views)

    def sql(self, query: str, **more: Any) -> duckdb.DuckDBPyRelation:
        """What a query gives; `more` as the connection takes it."""
        self._make_for(query)
        return self._con.sql(query, **more)

    def execute(self, query: str, parameters: object = None) -> duckdb.DuckDBPyConnection:
        """Run a statement; parameters as the connection takes them."""
        self._make_for(query)
        return self._con.execute(query, parameters)

    def register(self, name: str, table: object) -> None:
        """Let queries name a table of Arrow's."""
        self._con.register(name, table)

    def unregister(self, name: str) -> None:
        """Forget such a table."""
        self._con.unregister(name)

    def _make_for(self, query: str) -> None:
        for view in only_for(query, self._unmade):
            make_view(self._con, view)
            self._unmade.remove(view)


def make_view(con: duckdb.DuckDBPyConnection | Asking, view: View) -> None:
    """Make one view in a session, computed now if it is kept."""
    con.execute(f"create temp {'table' if view.kept else 'view'} {view.name} as {view.sql}")
