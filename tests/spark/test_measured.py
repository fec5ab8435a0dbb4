"""One whole measurement on Spark beside DuckDB's: the demo and drawn programmes in one ledger, told apart by their codes.

Spark takes its time to start and to plan, so all of it is one measurement, in which each view is compared as it is made.
"""

import os
import shutil

import pyarrow as pa
import pytest
from beside import Rows, differing
from merged import lay_out
from pyspark.sql import DataFrame
from sayings import seeded
from worlds import quarrel, troubled_world_of

from pipeline import on_spark, run
from pipeline.outputs.tables import read_figures, write_tables
from pipeline.programme import open_programme
from pipeline.session import figures_of, session
from schemas.kinds import all_kinds
from warehouse import spark
from warehouse.spark import rows_of
from warehouse.sqlfiles import read_views

HAS_JAVA = bool(shutil.which("java") or os.environ.get("JAVA_HOME"))
# never skipped where it must run: without Java it then fails
pytestmark = pytest.mark.skipif(
    not HAS_JAVA and os.environ.get("WRACKLINE_SPARK") not in ("must", "all"),
    reason="Spark needs Java 17 or newer, and neither `java` nor JAVA_HOME is here",
)


class Listening:
    """A frame whose rows are noted as they pass."""

    def __init__(self, frame: DataFrame, rows: dict[str, Rows], name: str) -> None:
        self.frame, self.rows, self.name = frame, rows, name

    def toArrow(self) -> pa.Table:
        table = self.frame.toArrow()
        self.rows[self.name] = rows_of(table)
        return table


class Heard:
    """What Spark made of every view, last."""

    def __init__(self, patch: pytest.MonkeyPatch) -> None:
        self.rows: dict[str, Rows] = {}
        self.views: spark.SparkViews | None = None
        making: list[str] = []
        make, place = spark.SparkViews.make_view, spark.in_one_place

        def make_view(views, view):
            self.views = views
            making.append(view.name)
            make(views, view)
            making.pop()

        def in_one_place(session, frame):
            return place(session, Listening(frame, self.rows, making[-1]) if making else frame)

        patch.setattr(spark.SparkViews, "make_view", make_view)
        patch.setattr(spark, "in_one_place", in_one_place)


@pytest.fixture(scope="module")
def measured(tmp_path_factory):
    """A programme measured by both: its folder, and what was heard of Spark."""
    assert HAS_JAVA, "WRACKLINE_SPARK says that this must run, and there is no Java here"
    drawn = [quarrel(), *(troubled_world_of(seeded(n)) for n in range(7))]
    root = lay_out(tmp_path_factory.mktemp("merged") / "programme", drawn)
    run.project(root)
    memory = run.remembered(open_programme(root).places)
    write_tables(*figures_of(root, memory=memory), root / "out")
    (root / "warehouse" / run.ESTIMATES).write_text(memory.to_text())  # the same inputs are not finished twice
    with pytest.MonkeyPatch.context() as patch:
        heard = Heard(patch)
        on_spark.measure_on_spark(root)
    return root, heard


def test_every_view_behind_a_figure_is_the_same(measured):
    """Each view that measuring made has DuckDB's rows: exact numbers to the last digit, doubles to the ninth."""
    root, heard = measured
    with session(root) as (con, _):
        apart = {
            name: said
            for name in sorted(heard.views.standing)
            if (said := differing("", con.sql(f"from {name}").fetchall(), heard.rows[name]))
        }
    assert apart == {}
    unmade = {view.name for view in read_views(all_kinds())} - heard.views.standing
    assert len(unmade) < 20, sorted(unmade)
    assert sum(bool(heard.rows[name]) for name in heard.views.standing) > 120


def test_every_figure_is_the_same(measured):
    """Each indicator of the catalogue has the same figures by both, with what rules settled told beside them."""
    root, _ = measured
    here, there = (read_figures(folder) for folder in (root / "out", root / "out" / "spark"))
    assert len(here) > 3000
    assert sum("settles it" in str(row) for row in here) > 0
    rows = [[tuple(row.values()) for row in told] for told in (here, there)]
    assert differing("order by all", *rows) == ""
