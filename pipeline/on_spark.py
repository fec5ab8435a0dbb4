"""Figures measured by Spark: entries and rules from here, segments from wherever Spark reads them, the same estimators."""

import datetime as dt
import shutil
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from importlib.util import find_spec
from os import environ
from pathlib import Path
from typing import TYPE_CHECKING

from pipeline import disk, publishing
from pipeline.errors import BadUsage, LedgerDamaged
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
from warehouse.sqlfiles import read_views
from warehouse.views import Views

if TYPE_CHECKING:  # see session.py
    from warehouse.database import Load

FOLDER = "spark"  # below out/


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
    BadUsage without pyspark or Java, or where a rule settled what partners tell differently; LedgerDamaged when a
    segment is gone or another.
    """
    _refuse_unready()
    from warehouse.spark import make_all
    from warehouse.spark_session import spark_session
    from warehouse.spark_tables import hashes

    note_rules(root, say)
    programme, kinds = open_programme(root), all_kinds()
    places = programme.places
    ledger = open_ledger(places)
    asked = Asked(entry=ledger.last_number())
    if not asked.entry:
        raise BadUsage("The ledger is empty: run `wrackline take` first.")
    rules = rules_as_of(programme, asked)
    told = loads(ledger, ledger.entries(), kinds, prove=False)
    address = segments.rstrip("/") or f"file://{ledger.segments.resolve()}"
    with publishing.only_publisher(places):
        say("starting Spark")
        with spark_session() as spark:
            say(f"proving segments at {address}")
            wanted = segments_read(told)
            try:
                found = hashes(spark, address, sorted(set(wanted.values())))
            except OSError as e:
                raise BadUsage(f"Spark cannot read {address}: {e}") from e
            prove(wanted, found, address)
            say("measuring")
            views = make_all(
                spark, address, told, kinds, rule_tables(rules), asked.happened, asked.entry, read_views(kinds)
            )
            refuse_settled(views)
            memory = remembered(places)
            figures = measure(views, rules, memory)
            [(day,)] = views.sql("select happened from as_of").fetchall()
        from pipeline.outputs.tables import write_tables

        disk.replace(places.warehouse / ESTIMATES, memory.to_text().encode())
        folder = into or places.out / FOLDER
        write_tables(figures, day, folder)
    return BySpark(len(figures), day, asked.entry, str(folder))


def _refuse_unready() -> None:
    missing = [name for name in ("pyspark", "sqlglot") if find_spec(name) is None]
    if missing:
        raise BadUsage(f"{' and '.join(missing)} is not installed: `pip install 'wrackline[spark]'`.")
    java = shutil.which("java") or environ.get("JAVA_HOME")
    if not java and "SPARK_REMOTE" not in environ:
        raise BadUsage("Spark needs Java 17 or newer: install it, or name a server of Spark Connect in SPARK_REMOTE.")


def refuse_settled(views: Views) -> None:
    """BadUsage where a rule settled anything: which figures count it is asked by row, and that is DuckDB's to answer."""
    names = [name for (name,) in views.sql("select name from settled_by_rule order by name").fetchall()]
    if names:
        raise BadUsage(
            f"Rules of the programme settle {n_of(len(names), 'thing')} that partners tell differently, first by “{names[0]}”. "
            "Figures that count them must say so, and measured by Spark they cannot. Nothing was written: measure with "
            "`wrackline measure`, or take the rule out of programme.toml."
        )


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
