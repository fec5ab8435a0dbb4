"""Which events are counted in which figures, of all figures at once: what `lineage.home` tells of one, by the same questions.

Each question's text is asked once for all figures that ask it, its $names taken from a table of their scopes.
"""

import re
from collections import defaultdict
from collections.abc import Collection, Sequence
from dataclasses import dataclass

import pyarrow as pa

from pipeline.groups import group_of
from pipeline.indicators.figure import SCOPE, Figure
from warehouse.asking import Asking

MANY = "reading"  # a logger's year is a hundred thousand rows: of these, files and row numbers are told


@dataclass(frozen=True)
class Asked:
    """What a question about figures is once its $names are columns of `figure_asking`, called w; nth: that of its figures there."""

    nth: int
    kind: str
    query: str


def questions(con: Asking, figures: Sequence[Figure], kinds: Collection[str] | None = None) -> list[Asked]:
    """What is to be asked for the events counted in figures. kinds: only events of these.

    Leaves the table `figure_asking`: nth, figure (its id), number (its place among the figures) and its scope.
    """
    asked: dict[tuple[str, str], list[int]] = defaultdict(list)
    for number, f in enumerate(figures):
        for role, kind, query in group_of(f.indicator).behind(f):
            if role == "counted" and (kinds is None or kind in kinds):
                asked[kind, query].append(number)
    wanted = {"nth": [], "number": [], "figure": [], **{name: [] for name in SCOPE}}  # type: dict[str, list[object]]
    for nth, mine in enumerate(asked.values()):
        for number in mine:
            f = figures[number]
            wanted["nth"].append(nth)
            wanted["number"].append(number)
            wanted["figure"].append(f.id)
            for name in SCOPE:
                of = f.of(name)
                wanted[name].append(None if not of or (name == "site" and of == "all") else of)
    types = {"nth": pa.int64(), "number": pa.int32()}
    con.register("asked_for", pa.table({n: pa.array(v, types.get(n, pa.string())) for n, v in wanted.items()}))
    con.execute("create or replace temp table figure_asking as select * from asked_for")
    con.unregister("asked_for")
    return [Asked(nth, kind, re.sub(r"\$(\w+)", r'w."\1"', query)) for nth, (kind, query) in enumerate(asked)]


def counted_in(con: Asking, figures: Sequence[Figure], kinds: Collection[str], among: str) -> list[tuple[str, str]]:
    """Figure and identity of every event counted in it, readings aside. kinds: only events of these.

    con: a session of `warehouse.database.reading`. among: SQL that gives the only identities asked for.
    """
    found: set[tuple[str, str]] = set()
    for one in questions(con, figures, kinds):
        if one.kind != MANY:
            found.update(
                con.sql(
                    f"select distinct w.figure, x.identity from figure_asking w cross join lateral ({one.query}) x "
                    f"where w.nth = {one.nth} and x.identity in ({among})"
                ).fetchall()
            )
    return sorted(found)
