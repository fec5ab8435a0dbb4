"""The rows behind figures on pages of figures: those listed, and those of very many, told by file and number."""

import datetime as dt
import html
from decimal import Decimal
from itertools import pairwise

import duckdb
import pytest

from pipeline import behind as module
from pipeline import look, run, says
from pipeline.behind import RowsBehind
from pipeline.indicators.estimate import Estimate
from pipeline.indicators.figure import Figure, scope
from pipeline.pages.figures_page import RUNS, figures_page
from pipeline.pages.shell import Shell
from pipeline.pages.told import Behind, Span, Told, runs_of
from pipeline.pages.words import LANGUAGES, words
from schemas.kinds import all_kinds
from warehouse.asking import Asking

DRAWN = {  # values of every type that SQL and Python could write in two ways, null among them
    "text": ["plain", "", "2025-06-01", "O'Neill, 5 %", None],
    "whole": [0, -3, 1200, None],
    "decimal": [Decimal("0"), Decimal("100"), Decimal("-0.25"), Decimal("0.1"), None],
    "day": [dt.date(2025, 6, 1), dt.date(1999, 12, 31), None],
    "instant": [*(dt.datetime.fromisoformat(t) for t in ("2025-06-01T09:05", "2025-06-01")), None],
    "yesno": [True, False, None],
}
SQL = {"text": "varchar", "whole": "bigint", "day": "date", "instant": "timestamp", "yesno": "boolean"}


@pytest.fixture(scope="module")
def measured(new_programme):
    """The drawn sea with frames of two plots, measured."""
    programme = new_programme()
    programme.take({
        "club/frames.csv": """
        visit_key   happened     site_key   plot_key   frame_key   frame_type   placement   area_m2   protocol   species                stage     count
        V1          2025-06-01   CB         T1         1           quadrat      random      0.25      frames     Laminaria hyperborea   recruit   3
        V1          2025-06-01   CB         T1         2           quadrat      random      0.25      frames     Laminaria hyperborea   recruit   0
        V1          2025-06-01   CB         T1         3           quadrat      random      0.25      frames     Laminaria hyperborea   recruit   5
        V1          2025-06-01   CB         T1         4           quadrat      random      0.25      frames     Laminaria hyperborea   recruit   2
        V1          2025-06-01   CB         C1         1           quadrat      random      0.25      frames     Laminaria hyperborea   recruit   0
        V1          2025-06-01   CB         C1         2           quadrat      random      0.25      frames     Laminaria hyperborea   recruit   1
    """,
    })  # fmt: skip
    run.refresh(programme.root)
    return programme


@pytest.mark.parametrize("kind", sorted(all_kinds()))
def test_rows_are_told_alike_by_sql_and_by_python(kind):
    """What pages say of a million rows at once is what is said of one, of every kind and type of column."""
    told = all_kinds()[kind]
    types = {c.name: SQL.get(c.type, f"decimal(18, {c.places})") for c in told.columns}
    con = duckdb.connect()
    con.execute(
        f"create table {kind}_said (identity varchar, content varchar, key varchar, "
        + ", ".join(f'"{n}" {t}' for n, t in types.items())
        + ")"
    )
    for n in range(20):
        values = [DRAWN[c.type][(n + i) % len(DRAWN[c.type])] for i, c in enumerate(told.columns)]
        key = "plain | 2025-06-01" if n % 3 else None
        con.execute(
            f"insert into {kind}_said values ({', '.join('?' * (len(values) + 3))})", [str(n), "c", key, *values]
        )
    by_sql = dict(con.sql(f"select k.identity, {says.said_sql(told)} from {kind}_said k").fetchall())
    found = says.sayings(Asking(con, []), all_kinds(), [(kind, str(n), "c") for n in range(20)])
    assert by_sql == {identity: says.as_text(saying) for (_, identity, _), saying in found.items()}


def test_very_many_rows_are_told_by_their_files(measured, monkeypatch):
    """A figure with more rows than are listed names every file of its rows with their numbers; the others stay as they are."""
    figures = look.published(measured.root)
    with run.session(measured.root) as (con, _):
        listed = RowsBehind(con, figures)(figures)
    monkeypatch.setattr(module, "LISTED", 3)
    with run.session(measured.root) as (con, _):
        some = RowsBehind(con, figures)(figures)
    assert any(len(places) > 3 for places in listed.places.values()) and some.places
    for figure, places in listed.places.items():
        rows = [listed.rows[at] for at in places]
        if len(places) <= 3:
            assert [some.rows[at] for at in some.places[figure]] == rows
            continue
        for span in some.spans[figure]:
            mine = [r.row for r in rows if (r.partner, r.file, r.receipt) == (span.partner, span.file, span.receipt)]
            assert (span.count, span.runs) == (len(mine), runs_of(mine))
        assert sum(s.count for s in some.spans[figure]) == len(rows) and figure not in some.places


def test_runs_hold_just_the_numbers():
    """Runs are in order, do not touch, and hold each number once."""
    numbers = [5, 1, 2, 3, 9, 8, 5]
    runs = runs_of(numbers)
    assert runs == ((1, 3), (5, 5), (8, 9)) and all(a[1] + 1 < b[0] for a, b in pairwise(runs))


@pytest.mark.parametrize("code", LANGUAGES)
def test_too_many_row_numbers_are_told_by_how_many_and_by_which_command(code):
    """Up to a limit every run of rows stands on the page; above it how many of which rows, and the command that tells each."""
    figure = Figure("density", scope(site="all"), Estimate("estimated", "per m2", 9, "frames", "x", value=5.0))
    asked = f"`wrackline home {figure.id}`"
    said = "{n} of the rows {first}–{last}; `wrackline home {figure}` tells each"
    for runs, short in ((RUNS, False), (RUNS + 1, True)):
        span = Span("club", "f.csv", "", 1, runs, runs_of(range(2, 2 * runs + 2, 2)))
        told = Told("P", None, 1, "EUR", 1, (), [figure], {}, [], behind=Behind(spans={figure.id: [span]}))
        text = html.unescape(figures_page(Shell(told, words(code), False), "figures/x.html").decode())
        assert (asked in text) is short
        assert (f", {2 * runs}</li>" in text) is not short
        if short:
            assert words(code)(said, n=runs, first=2, last=2 * runs, figure=figure.id) in text
    assert code == "en" or words(code).texts[said] != said
