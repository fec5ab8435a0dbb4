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


@pytest.mark.parametrize("together", [False, True])
def test_what_is_kept_is_computed_when_it_is_made(con, together):
    """A kept view holds what stood when it was first asked for; any other is asked anew."""
    asking = Asking(con, VIEWS, together)
    asking.sql("from low").fetchall()
    con.execute("insert into base values (5)")
    assert asking.sql("from top").fetchall() == [(2,)]


@pytest.mark.parametrize("together", [False, True])
def test_a_view_that_cannot_be_made_can_be_asked_for_again(con, together):
    """After a fault what was made is not made twice, and the fault is told again."""
    asking = Asking(con, VIEWS, together)
    for _ in range(2):
        with pytest.raises(duckdb.Error, match="nothing"):
            asking.sql("from broken").fetchall()
    assert asking.sql("from top").fetchall() == [(2,)]


@pytest.mark.parametrize("together", [False, True])
def test_a_registered_table_can_be_named(con, together):
    """Rows of Arrow's are named by registering them, until they are forgotten."""
    asking = Asking(con, VIEWS, together)
    asking.register("told", con.sql("select 7 as n").to_arrow_table())
    assert asking.sql("select t.n + m.n from told t, mid m").fetchall() == [(9,)]
    asking.unregister("told")
    with pytest.raises(duckdb.Error):
        asking.sql("from told").fetchall()


def test_together_only_what_is_kept_is_made(con):
    """A query that gets its views with it leaves none behind but what is kept; a statement makes what it needs."""
    asking = Asking(con, VIEWS, together=True)
    assert asking.sql("select n from top").fetchall() == [(2,)]
    assert made(con) == {"low"}
    asking.execute("create temp table told as select n from mid")
    assert made(con) == {"low", "mid", "told"}
    assert asking.sql("from top").fetchall() == [(2,)]
    assert asking.relation("select n as m from top").columns == ["m"]


@pytest.mark.parametrize("together", [False, True])
def test_a_query_may_have_common_tables_of_its_own(con, together):
    """Those of a query stand behind its views, recursive ones too, and may read them; its parameters hold."""
    asking = Asking(con, [*VIEWS, View("up", "with recursive r as (select n from mid union all select n + 1 from r where n < 4) select * from r", True, "")], together)  # fmt: skip
    assert asking.sql("\nwith one as (select n from mid) select n + $more from one", {"more": 5}).fetchall() == [(7,)]
    assert asking.sql("with recursive r as (select 1 as n union all select n + 1 from r where n < 3) select m.n from r, mid m").fetchall() == [(2,)] * 3  # fmt: skip
    assert asking.sql("select max(n) from up").fetchall() == [(4,)]


@pytest.mark.parametrize("together", [False, True])
def test_light_views_are_kept_where_all_is_small_from_the_set_day_on(con, together):
    """Before, and where much is projected, a light view is asked anew; then it holds what stood when it was first asked for."""
    asking = Asking(con, [View("light", "select n from base", False, "", True)], together)
    for n in (1, 2):
        assert asking.sql("select count(*) from light").fetchall() == [(n,)]
        con.execute("insert into base values (5)")
    asking.keep_light()
    for _ in range(2):
        [(now,)] = asking.sql("select count(*) from light").fetchall()
        con.execute("insert into base values (5)")
    assert now == (3 if together else 4)


def test_answers_do_not_collide(con):
    """An answer is the rows of its own query, though another was asked before they were fetched."""
    asking = Asking(con, VIEWS)
    first, second = asking.sql("select n from top"), asking.sql("select n + 10 from top")
    assert (second.fetchall(), first.fetchall()) == ([(12,)], [(2,)])
