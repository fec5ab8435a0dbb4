"""Which views are made for a query."""

from schemas.kinds import all_kinds
from warehouse.sqlfiles import View, only_for, read_views


def view(name, sql):
    """A view that is made at every use."""
    return View(name, sql, False, "")


def test_a_query_needs_what_it_names_and_what_that_is_made_from():
    """The views a query names and those below them, in the order they are made; none of the others."""
    views = [
        view("low", "select 1"),
        view("aside", "select 2"),
        view("mid", "select * from low"),
        view("top", "from mid"),
    ]
    assert [v.name for v in only_for("select * from top", views)] == ["low", "mid", "top"]
    assert only_for("select * from topmost", views) == []


def test_few_of_the_views_are_needed_for_what_is_held():
    """What is held can be asked without one view that measures."""
    needed = {v.name for v in only_for("from held_cause", read_views(all_kinds()))}
    assert "held_cause" in needed and not any(name.endswith("_input") for name in needed)
