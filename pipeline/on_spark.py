"""Figures measured by Spark: entries and rules from here, segments from wherever Spark reads them, the same estimators."""

import datetime as dt
import shutil
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from importlib.util import find_spec
from os import environ
from pathlib import Path
from typing import TYPE_CHECKING

import duckdb

from pipeline import disk, publishing
from pipeline.by_rule import with_cautions
from pipeline.counted import MANY
from pipeline.errors import BadUsage, LedgerDamaged
from pipeline.groups import group_of
from pipeline.indicators.figure import Figure
from pipeline.loading import loads
from pipeline.measure import measure
from pipeline.plural import n_of
from pipeline.programme import open_programme
from pipeline.rule_tables import rule_tables
from pipeline.run import ESTIMATES, Say, note_rules, open_ledger, remembered, silent
from pipeline.session import Asked, rules_as_of
from pipeline.world import plainly
from schemas.kinds import all_kinds
from warehouse.appending import TABLES
from warehouse.asking import Asking
from warehouse.database import CONFIG
from warehouse.sqlfiles import read_views

if TYPE_CHECKING:  # see session.py
    from warehouse.database import Load
    from warehouse.spark import SparkViews

FOLDER = "spark"  # below out/
SMALL = 20_000_000  # bytes of segments that one task reads sooner than Spark plans to part them


@dataclass(frozen=True)
class BySpark:
    """What Spark measured: how many figures, as of which day and entry, and the folder they are written to."""

    figures: int
    as_of: dt.date
    entry: int
    folder: str


@plainly()
def measure_on_spark(root: Path, say: Say = silent, segments: str = "", into: Path | None = None) -> BySpark:
    """Measure everything the ledger holds on Spark, and write the figures into a folder (out/spark).

    segments: the address, as Spark reads it, of a copy of the ledger's `segments`; the ledger itself if not given. Its
    bytes are proved to be the ledger's first. No projection is made or needed; letters and pages are not written.
    BadUsage without pyspark or Java; LedgerDamaged when a segment is gone or another.
    """
    _refuse_unready()
    from warehouse.spark import make_all
    from warehouse.spark_session import spark_session
    from warehouse.spark_tables import hashes

    note_rules(root, say)
    programme, kinds = open_programme(root), all_kinds()
    places = programme.places
    ledger = open_ledger(places)
    entries = ledger.entries()
    if not any(e.drop for e in entries):
        raise BadUsage("Nothing was taken in yet: run `wrackline take` first.")
    last = ledger.last_number()
    asked = Asked(entry=last)
    rules = rules_as_of(programme, asked)
    told = loads(ledger, entries, kinds, prove=False)
    address = segments.rstrip("/") or f"file://{ledger.segments.resolve()}"
    small = sum(s.size for e in entries for s in e.segments) < SMALL
    with publishing.only_publisher(places):
        say("starting Spark")
        with spark_session(small) as spark:
            say(f"proving segments at {address}")
            wanted = segments_read(told)
            try:
                found = hashes(spark, address, sorted(set(wanted.values())))
            except OSError as e:
                raise BadUsage(f"Spark cannot read {address}: {e}") from e
            prove(wanted, found, address)
            say("measuring")
            tables, views = rule_tables(rules), read_views(kinds)
            made = make_all(spark, address, told, kinds, tables, asked.happened, asked.entry, views, small)
            memory = remembered(places)
            figures = with_cautions_of(made, measure(made, rules, memory))
            [(day,)] = made.sql("select happened from as_of").fetchall()
        from pipeline.outputs.tables import write_tables

        disk.replace(places.warehouse / ESTIMATES, memory.to_text().encode())
        folder = into or places.out / FOLDER
        write_tables(figures, day, folder)
    return BySpark(len(figures), day, last, str(folder))


def _refuse_unready() -> None:
    missing = [name for name in ("pyspark", "sqlglot") if find_spec(name) is None]
    if missing:
        raise BadUsage(f"{' and '.join(missing)} is not installed: `pip install 'wrackline[spark]'`.")
    java = shutil.which("java") or environ.get("JAVA_HOME")
    if not java and "SPARK_REMOTE" not in environ:
        raise BadUsage("Spark needs Java 17 or newer: install it, or name a server of Spark Connect in SPARK_REMOTE.")


def with_cautions_of(views: "SparkViews", figures: Sequence[Figure]) -> Sequence[Figure]:
    """The figures, those that count anything settled by a rule with a caution that says so.

    Which figures count what is asked by row, in SQL of DuckDB alone: what it asks of is brought back through Arrow.
    """
    kinds = {k for (k,) in views.sql("select distinct kind from settled_by_rule").fetchall()}
    if not kinds:
        return figures
    from warehouse.spark import tables_named

    asked = {
        query
        for f in figures
        for role, kind, query in group_of(f.indicator).behind(f)
        if role == "counted" and kind in kinds and kind != MANY
    }
    with duckdb.connect(config=CONFIG) as con:
        for name in {"settled_by_rule", *(name for query in asked for name in tables_named(query))}:
            rows = views.frame(f"select * from {name}").toArrow()
            con.register("rows", rows)
            con.execute(f"create table {name} as from rows")
        return with_cautions(Asking(con, []), figures)


def segments_read(told: "Sequence[Load]") -> dict[str, str]:
    """File and kind of every segment that is asked for; the text of records is not."""
    read = {*all_kinds(), *TABLES}
    return {path.name: kind for load in told for kind, path in load.segments.items() if kind in read}


def prove(wanted: Mapping[str, str], found: Mapping[str, str], address: str) -> None:
    """LedgerDamaged when a segment at that address is gone or is not as the ledger says; found: the hash of each file there."""
    wrong = [
        f"{kind}/{name}" for name, kind in sorted(wanted.items()) if found.get(name) != name.removesuffix(".parquet")
    ]
    if wrong:
        raise LedgerDamaged(
            f"{n_of(len(wrong), 'segment')} at {address} is gone or is not as the ledger has it, first {wrong[0]}. Nothing "
            "was measured. Copy the ledger's `segments` there anew; of the ledger itself, `wrackline verify` tells more."
        )
