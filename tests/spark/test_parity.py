"""DuckDB and Spark give the same: every view, every query behind the figures, on the demo and on drawn programmes."""

import os
import shutil

import duckdb
import pytest
from beside import Beside, Rows, differing
from merged import lay_out
from profiles import seeds
from sayings import seeded
from worlds import quarrel, troubled_world_of

from pipeline import on_spark, run
from pipeline.errors import BadUsage, LedgerDamaged
from pipeline.measure import measure
from pipeline.programme import open_programme
from pipeline.rule_tables import rule_tables
from schemas.kinds import all_kinds
from warehouse import current, database, spark_session
from warehouse.spark import MEANINGS
from warehouse.sqlfiles import ALL, View, events, read_views

pytestmark = pytest.mark.skipif(
    os.environ.get("WRACKLINE_SPARK") != "all", reason="asked view by view by `make spark-check` (Java, five minutes)"
)


@pytest.fixture(scope="module")
def programme(tmp_path_factory):
    """The demo and some drawn programmes in one ledger, projected."""
    drawn = [quarrel(), *(troubled_world_of(seeded(n, crowd=3)) for n in seeds(2))]
    root = lay_out(tmp_path_factory.mktemp("merged") / "programme", drawn)
    run.project(root)
    return root


@pytest.fixture(scope="module")
def beside(programme):
    """Every view, and every query that measuring asks, asked of both engines."""
    kinds, rules = all_kinds(), run.rules_as_of(open_programme(programme), run.LATEST)
    with spark_session.spark_session(small=True) as spark, duckdb.connect(config=database.CONFIG) as con:
        at = current.pointer(programme / "warehouse")
        con.execute(f"attach '{programme / 'warehouse' / at.file}' as projection (read_only)")
        con.execute("set search_path = 'memory,projection'")
        database.make_settings(con, kinds, rule_tables(rules), None, None)
        con.execute(
            "insert into setting_publish select distinct partner, date '9999-12-31' from entry"
        )  # as an archive does
        both = Beside(con, spark)
        database.make_views(con, kinds, None, read_views(kinds, ALL), both.make, both.set_last_day)
        measure(Asking(both), rules, run.remembered(open_programme(programme).places))
        yield both


class Asking:
    """The views, of whichever engine: asked of both."""

    def __init__(self, both: Beside) -> None:
        self.both = both

    def sql(self, query: str) -> "Asking":
        self.rows = self.both.compare(query, query)
        return self

    def fetchall(self) -> Rows:
        return self.rows


def test_every_view_and_query_gives_the_same(beside):
    """Spark gives the rows that DuckDB gives, of the same types: exact numbers to the last digit, doubles to the ninth."""
    assert beside.apart == {}


def test_nearly_everything_that_is_compared_has_rows(beside):
    """The compared ledger says something to nearly every view and query, so that engines can differ in them."""
    silent = sorted(
        name for name, rows in beside.compared.items() if not rows and not name.startswith(("rule_unknown_", "ahead_"))
    )
    assert len(silent) <= len(beside.compared) / 6, silent


def stubs() -> list[View]:
    """Two views as they are, and the least that makes a last day known."""
    kinds = all_kinds()
    real = [v for v in read_views(kinds) if v.name in ("ruled", "later_register")]
    now = "select k.* from {0}_said k cross join as_of a where k.entry <= a.entry and k.happened <= a.happened"
    none = "select k.identity, k.happened from {0}_said k where k.happened is null"
    return [
        *real,
        View("settled_by_rule", "select identity, key as name, kind from part where entry is null", False, ""),
        *(View(f"{k}_now", now.format(k), False, "") for k in kinds),
        *(View(f"ahead_{k}", none.format(k), True, "") for k in events(kinds)),
    ]


def test_spark_reads_the_ledger_as_the_projection_has_it(programme, monkeypatch):
    """Base tables, settings, the last day and views over it are the same from the segments as from the projection."""
    kinds, tables = all_kinds(), rule_tables(run.rules_as_of(open_programme(programme), run.LATEST))
    asked = [
        *(f"{k}_said" for k in kinds),
        *(f"{k}_now" for k in kinds),
        "part",
        "fault",
        "asked",
        "returned",
        "entry",
        "contradicts",
    ]
    asked += [*tables.tables, "as_of", "shared_kind", "ruled", "later_register"]
    told: dict[str, Rows] = {}

    def asking(views, rules, memory):
        told.update({name: views.sql(f"select * from {name}").fetchall() for name in asked})
        assert {name: views.spark.conf.get(name) for name in MEANINGS} == MEANINGS
        return []

    monkeypatch.setattr(on_spark, "SMALL", 0)  # as a ledger is asked that does not fit into one task
    monkeypatch.setattr(on_spark, "read_views", lambda kinds: stubs())
    monkeypatch.setattr(on_spark, "measure", asking)
    done = on_spark.measure_on_spark(programme)
    with database.reading(programme / "warehouse", kinds, tables, None, None, stubs()) as con:
        known = {name: con.sql(f"select * from {name}").fetchall() for name in asked}
    apart = {name: differing("", known[name], told[name]) for name in asked}
    assert {name: said for name, said in apart.items() if said} == {}
    assert (done.figures, done.as_of) == (0, known["as_of"][0][0])
    assert (programme / "out" / "spark" / "indicators.csv").is_file()


def test_a_copy_that_is_not_the_ledger_is_refused(programme, tmp_path):
    """Segments of which one byte was changed, or one is gone, or that are not there, are never measured."""
    copy = tmp_path / "segments"
    shutil.copytree(programme / "ledger" / "segments", copy)
    one = min(copy.glob("check/*.parquet"))
    good = one.read_bytes()
    one.write_bytes(good[:100] + bytes([good[100] ^ 1]) + good[101:])
    with pytest.raises(LedgerDamaged, match=f"check/{one.name}"):
        on_spark.measure_on_spark(programme, segments=f"file://{copy}", into=tmp_path / "out")
    one.unlink()
    with pytest.raises(LedgerDamaged, match=f"check/{one.name}"):
        on_spark.measure_on_spark(programme, segments=f"file://{copy}", into=tmp_path / "out")
    with pytest.raises(BadUsage, match="cannot read"):
        on_spark.measure_on_spark(programme, segments=f"file://{tmp_path}/nothing", into=tmp_path / "out")
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize(("one", "other"), [(1, 1.0), (1, 2), (None, 0), ("a", "A"), (1.0, 1.00001), (True, 1)])
def test_a_difference_would_be_told(one, other):
    """Another value or another type counts as a difference."""
    assert differing("select 1", [(one,)], [(other,)])
    assert not differing("select 1", [(one,)], [(one,)])
