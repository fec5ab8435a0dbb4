"""Which events are counted in which figures, of all figures at once: what `lineage.home` tells of one, by the same questions.

Each question's text is asked once for all figures that ask it, its $names taken from a table of their scopes.
"""

import re
from collections import defaultdict
from collections.abc import Collection, Sequence

import pyarrow as pa

from pipeline.groups import group_of
from pipeline.indicators.figure import SCOPE, Figure
from warehouse.asking import Asking

MANY = "reading"  # a logger's year is a hundred thousand rows: of these, files and row numbers are told


def counted_in(
    con: Asking, figures: Sequence[Figure], kinds: Collection[str] | None = None, among: str = ""
) -> list[tuple[str, str]]:
    """Figure and identity of every event counted in it, readings aside; with their kind in the table `counted_in`.

    con: a session of `warehouse.database.reading`. kinds: only events of these. among: SQL that gives the only
    identities asked for. Questions about readings are left in the table `asked_of_many`.
    """
    asked: dict[tuple[str, str], list[Figure]] = defaultdict(list)
    for f in figures:
        for role, kind, query in group_of(f.indicator).behind(f):
            if role == "counted" and (kinds is None or kind in kinds):
                asked[kind, query].append(f)
    wanted = {"nth": [], "figure": [], **{name: [] for name in SCOPE}}  # type: dict[str, list[object]]
    for nth, mine in enumerate(asked.values()):
        for f in mine:
            wanted["nth"].append(nth)
            wanted["figure"].append(f.id)
            for name in SCOPE:
                of = f.of(name)
                wanted[name].append(None if not of or (name == "site" and of == "all") else of)
    types = {"nth": pa.int64()}
    con.register("asked_for", pa.table({n: pa.array(v, types.get(n, pa.string())) for n, v in wanted.items()}))
    con.execute("create or replace temp table figure_asking as select * from asked_for")
    con.execute("create or replace temp table counted_in (figure varchar, kind varchar, identity varchar)")
    con.execute("create or replace temp table asked_of_many (nth bigint, query varchar)")
    for nth, (kind, query) in enumerate(asked):
        filled = re.sub(r"\$(\w+)", r'w."\1"', query)
        if kind == MANY:
            con.execute("insert into asked_of_many values (?, ?)", [nth, filled])
            continue
        con.execute(
            f"insert into counted_in select distinct w.figure, '{kind}', x.identity from figure_asking w "
            f"cross join lateral ({filled}) x where w.nth = {nth}" + (f" and x.identity in ({among})" if among else "")
        )
    return con.sql("select distinct figure, identity from counted_in").fetchall()
