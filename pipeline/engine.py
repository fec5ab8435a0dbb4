"""The one DuckDB in memory with which a process reads drops: a new one for every sheet would cost 20 ms and more."""

import os
from functools import cache

import duckdb


def connection() -> duckdb.DuckDBPyConnection:
    """A connection to it, to be closed by who asked: what one registers, and its temporary tables, no other sees."""
    con = _of_process(os.getpid()).cursor()
    con.execute("set enable_progress_bar = false")  # it would be drawn into what a command answers
    return con


@cache
def _of_process(_: int) -> duckdb.DuckDBPyConnection:  # a forked child must not use its parent's threads
    return duckdb.connect(config={"autoinstall_known_extensions": "false", "TimeZone": "UTC"})
