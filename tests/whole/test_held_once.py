"""What two drops of a partner say alike and is held is one statement: counted, listed and closed once."""

import pytest

from pipeline import look, run, settle
from pipeline.cli import main

BAGS = """
    unit_key   method      site_key   plot_key   happened     fixing   retrieve_by
    CB-1       spore bag   CB         T1         2025-03-01   bolt     .
    CB-2       spore bag   CB         T1         2025-03-01   bolt     .
    CB-3       spore bag   CB         T1         2025-03-01   bolt     {}
    {}         spore bag   CB         T1         2025-03-01   bolt     .
"""
THEIRS = """
    unit_key   method      site_key   plot_key   happened     fixing
    CB-2       spore bag   CB         T1         2025-03-01   glue
"""


@pytest.fixture(scope="module")
def told(new_programme):
    """To look at only: a sheet with a word nobody knows and a contradiction, handed in twice more under other names."""
    programme = new_programme()
    programme.take({"outro/bags.csv": THEIRS})
    programme.take({"clube/bags.csv": BAGS.format("soon", "CB-4")})
    programme.take({"clube/bags 2.csv": BAGS.format("soon", "CB-5")})
    programme.take({"clube/bags 3.csv": BAGS.format("late", "CB-6")})
    run.refresh(programme.root)
    return programme


def test_what_two_drops_say_alike_is_one_statement(told):
    """A held row stands once, with the newest drop that says it and the older ones named; another fault of the same thing is another."""
    rows = [
        (h.file, h.row, h.fate, [(o.file, o.row) for o in h.older])
        for h in look.held_rows(told.root)
        if h.partner == "clube"
    ]
    assert rows == [
        ("bags 2.csv", 4, "faulty", [("bags.csv", 4)]),
        ("bags 3.csv", 3, "conflict", [("bags.csv", 3), ("bags 2.csv", 3)]),
        ("bags 3.csv", 4, "faulty", []),
    ]  # fmt: skip


def test_every_count_is_of_statements(told, capsys):
    """`held`, `held --rows`, the page and what `show` says count the same."""
    held = look.held_rows(told.root)
    assert sum(h.parts for h in look.held(told.root)) == len(held) == 3
    assert "3 held (`wrackline held`)" in look.still_open(told.root)
    page = " ".join((told.root / "out/letters/clube/standing.txt").read_text().split())
    assert "HELD, 2 statements." in page  # the contradiction stands below, with both sides
    assert "row 4: told in “bags.csv” row 4 too; mended here, it is mended there." in page
    main(["held", "--rows", "-p", str(told.root)])
    assert "(also bags 2.csv row 3 and 1 more)" in " ".join(capsys.readouterr().out.split())


def test_what_is_closed_is_closed_in_every_drop(told, copy_of):
    """A held row that a person dismisses does not come back in the shape of an older drop."""
    copy = copy_of(told)
    name = next(h.name for h in look.held_rows(copy.root) if h.file == "bags 2.csv")
    settle.dismiss(copy.root, name, "mb", "no such bag")
    run.project(copy.root)
    assert [(h.file, h.row) for h in look.held_rows(copy.root) if h.partner == "clube"] == [
        ("bags 3.csv", 3),
        ("bags 3.csv", 4),
    ]
    assert sum(h.parts for h in look.held(copy.root)) == 2


def test_a_drop_read_again_is_not_told_of_as_another(told, copy_of):
    """A contradiction in a drop that is read again is one statement, and no other file is named."""
    copy = copy_of(told)
    copy.partner(
        "clube",
        '[codes.fixing]\nbolt = "bolt"\n[[sheet]]\nfiles = ["x*"]\nkind = "visit"\n[sheet.columns]\nvisit_key = "Dive"\nhappened = "Day"\nsite_key = "Site"\noutcome = "Found"\n',
    )
    copy.retake()
    run.project(copy.root)
    [row] = [h for h in look.held_rows(copy.root) if h.partner == "clube" and h.fate == "conflict"]
    assert row.file == "bags 3.csv" and [o.file for o in row.older if not o.same_drop].count("bags 3.csv") == 0
    assert sum(h.parts for h in look.held(copy.root)) == len(look.held_rows(copy.root)) == 3
