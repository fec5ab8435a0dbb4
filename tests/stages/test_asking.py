"""A session makes a view when a query first names it, and what it answers does not depend on when that was."""

import duckdb
import pytest

from warehouse.asking import Asking
from warehouse.sqlfiles import View

VIEWS = [
    View("low", "select n from base", True, ""),
    View("mid", "select n + 1 as n from low", False, ""),
    View("broken", "select nothing from mid", False, ""),
    View("top", "select sum(n) as n from mid", False, ""),
]


@pytest.fixture
def con():
    """A connection with a base table."""
    made = duckdb.connect()
    made.execute("create table base as select 1 as n")
    return made


def made(con):
    """The views and kept tables that there are."""
    return {name for (name,) in con.sql("select table_name from information_schema.tables").fetchall()} - {"base"}


def test_only_what_a_query_names_is_made(con):
    """A view is made with what it is made from, and no other; one that is broken hurts nobody who does not ask for it."""
    asking = Asking(con, VIEWS)
    asking.sql("from base").fetchall()
    assert made(con) == set()
    assert asking.sql("from mid").fetchall() == [(2,)]
    assert made(con) == {"low", "mid"}
    assert asking.execute("select n from top where n = $n", {"n": 2}).fetchall() == [(2,)]
    assert made(con) == {"low", "mid", "top"}


def test_what_is_kept_is_computed_when_it_is_made(con):
    """A kept view holds what stood when it was first asked for; any other is asked anew."""
    asking = Asking(con, VIEWS)
    asking.sql("from low").fetchall()
    con.execute("insert into base values (5)")
    assert asking.sql("from top").fetchall() == [(2,)]


def test_a_view_that_cannot_be_made_can_be_asked_for_again(con):
    """After a fault what was made is not made twice, and the fault is told again."""
    asking = Asking(con, VIEWS)
    for _ in range(2):
        with pytest.raises(duckdb.Error, match="nothing"):
            asking.sql("from broken")
    assert asking.sql("from top").fetchall() == [(2,)]


def test_a_registered_table_can_be_named(con):
    """Rows of Arrow's are named by registering them, until they are forgotten."""
    asking = Asking(con, VIEWS)
    asking.register("told", con.sql("select 7 as n").to_arrow_table())
    assert asking.sql("select t.n + m.n from told t, mid m").fetchall() == [(9,)]
    asking.unregister("told")
    with pytest.raises(duckdb.Error):
        asking.sql("from told").fetchall()
