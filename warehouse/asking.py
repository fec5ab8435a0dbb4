"""A session in which each view is made when a query first names it: most questions need a few of two hundred."""

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import duckdb

from warehouse.sqlfiles import View, only_for

_WITH = re.compile(r"\s*with\s+(recursive\s+)?")


class Asking:
    """DuckDB's connection for whoever asks, with the views that nobody named yet kept back.

    Only the words of a query tell which views it needs, so one that is named by chance (a column of the same name) is
    made too, which takes its time and changes no answer. Tables of Arrow's are named by `register` alone: DuckDB does
    not see the caller's variables through this. Raises duckdb.Error as the connection does.
    """

    def __init__(self, con: duckdb.DuckDBPyConnection, views: Sequence[View], together: bool = False) -> None:
        """con: a connection with what the views read; views: in the order in which they can be made.

        together: a query gets the views that it needs as its own common tables, so that one which several of them read is
        planned, and worked out, once a query instead of once for each that reads it. On a small projection, where planning
        takes most of the time, that saves a third; on a large one what a query asks for would not reach the base tables.
        """
        self._con, self._unmade, self._together = con, list(views), together

    def keep_light(self) -> None:
        """From now on light views are kept as well, where all is small: what they rest on changes no more in this session."""
        if self._together:
            self._unmade[:] = [replace(view, kept=view.kept or view.light) for view in self._unmade]

    def sql(self, query: str, params: object = None) -> "Answer":
        """What a query gives; params as the connection takes them."""
        return Answer(self._con, self._ready(query), params)

    def relation(self, query: str) -> duckdb.DuckDBPyRelation:
        """The same for who wants its columns or a table of Arrow's."""
        return self._con.sql(self._ready(query))

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

    def _ready(self, query: str) -> str:
        """The query as the connection can be asked it."""
        if not self._together:
            self._make_for(query)
            return query
        for view in only_for(query, self._unmade):
            if view.kept:
                make_view(self._con, replace(view, sql=with_views(view.sql, only_for(view.sql, self._unmade))))
                self._unmade.remove(view)
        return with_views(query, only_for(query, self._unmade))

    def _make_for(self, query: str) -> None:
        for view in only_for(query, self._unmade):
            make_view(self._con, view)
            self._unmade.remove(view)


@dataclass(frozen=True)
class Answer:
    """What a query gives, run when its rows are fetched: a relation is bound when it is made and once more when it is run."""

    con: duckdb.DuckDBPyConnection
    query: str
    params: object

    def fetchall(self) -> list[tuple[Any, ...]]:
        """All of its rows."""
        return self.con.execute(self.query, self.params).fetchall()


def with_views(query: str, views: Sequence[View]) -> str:
    """The query with the views as its first common tables. duckdb.Error comes of it if it calls one of its own as a view is called."""
    if not views:
        return query
    own = _WITH.match(query)
    told = ",\n".join(f"{view.name} as (\n{view.sql}\n)" for view in views)
    if own:
        return f"{own[0]}{told},\n{query[own.end() :]}"
    return f"with {told}\n{query}"


def make_view(con: duckdb.DuckDBPyConnection | Asking, view: View) -> None:
    """Make one view in a session, computed now if it is kept."""
    con.execute(f"create temp {'table' if view.kept else 'view'} {view.name} as {view.sql}")
