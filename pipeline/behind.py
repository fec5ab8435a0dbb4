"""Of figures the rows that are counted in them, as pages tell them: asked of all at once, fetched for a few pages at a time."""

from collections import defaultdict
from collections.abc import Sequence

import pyarrow as pa

from pipeline.counted import MANY, Asked, questions
from pipeline.indicators.figure import Figure
from pipeline.pages.figures_page import LISTED
from pipeline.pages.told import Behind, Row, Span, runs_of
from pipeline.says import said_sql
from schemas.kinds import all_kinds
from warehouse.asking import Asking

ROOM = "1500MB"  # what DuckDB takes for it; more is spilled, which at a million events costs no time worth telling


class RowsBehind:
    """The rows behind some figures, for as long as the session lasts. Calling it gives those behind a few of them.

    All of them stand in two tables of the session, by number and in the order of pages, so that a call reads little of them
    and a ledger of any size needs no more room in Python than its largest page.
    """

    def __init__(self, con: Asking, figures: Sequence[Figure]) -> None:
        """con: a session of `warehouse.database.reading`."""
        con.execute(f"set memory_limit = '{ROOM}'")
        self._con = con
        ordered = sorted(figures, key=lambda f: (f.of("site"), f.indicator, f.of("survey") or f.of("season")))
        self._number = {f.id: n for n, f in enumerate(ordered)}
        asked = questions(con, ordered)
        self._readings = _readings(con, [one for one in asked if one.kind == MANY])
        _number_rows(con, sorted({one.kind for one in asked} - {MANY}))
        _join_rows(con, [one for one in asked if one.kind != MANY])

    def __call__(self, figures: Sequence[Figure]) -> Behind:
        """What stands behind these. More than `LISTED` rows of one figure are told as files and row numbers."""
        ids = {self._number[f.id]: f.id for f in figures}
        self._con.register("figure_told", pa.table({"number": pa.array(sorted(ids), pa.int32())}))
        self._con.execute(
            "create or replace temp table row_told as select distinct b.number, b.place from row_behind b "
            "join figure_told f on f.number = b.number"
        )
        big = [
            n for (n,) in self._con.sql(f"select number from row_told group by 1 having count(*) > {LISTED}").fetchall()
        ]
        spans = {ids[number]: self._spans(number) for number in sorted(big)}
        for number in ids.keys() & self._readings.keys():
            spans[ids[number]] = [*spans.get(ids[number], ()), *self._readings[number]]
        if big:
            self._con.execute(f"delete from row_told where number in ({', '.join(map(str, big))})")
        rows = self._con.sql(
            "select r.* from row_said r join (select distinct place from row_told) t on t.place = r.place"
        ).fetchall()
        places = self._con.sql("select number, list(place order by place) from row_told group by 1").fetchall()
        return Behind(
            {place: Row(*told) for place, *told in rows}, {ids[number]: tuple(mine) for number, mine in places}, spans
        )

    def _spans(self, number: int) -> list[Span]:
        """Of one figure with very many rows its files."""
        found = self._con.sql(
            "select r.partner, r.file, r.sheet, r.receipt, count(*), list(r.row) from row_told t join row_said r on r.place = t.place "
            f"where t.number = {number} group by 1, 2, 3, 4 order by 1, 2, 3, 4"
        ).fetchall()
        return [
            Span(partner, file, sheet, receipt, n, runs_of(rows)) for partner, file, sheet, receipt, n, rows in found
        ]


def _readings(con: Asking, asked: Sequence[Asked]) -> dict[int, list[Span]]:
    """By a figure's number the files, and from which row to which, of readings counted in it."""
    found: dict[int, list[Span]] = defaultdict(list)
    for one in asked:
        rows = con.sql(
            f"""select w.number, e.partner, e.name, p.sheet, p.entry, count(distinct p.row), min(p.row), max(p.row)
                from figure_asking w
                cross join lateral ({one.query}) x
                join {MANY}_now k on k.identity = x.identity
                join part p on p.identity = k.identity and p.content = k.content and p.kind = '{MANY}' and p.fate <> 'faulty'
                join entry e on e.number = p.entry
                cross join as_of a
                where w.nth = {one.nth} and p.entry <= a.entry
                group by all order by 2, 3, 4, 5"""
        ).fetchall()
        for number, partner, file, sheet, receipt, n, first, last in rows:
            found[number].append(Span(partner, file, sheet, receipt, n, ((first, last),)))
    return found


def _number_rows(con: Asking, kinds: Sequence[str]) -> None:
    """Leave `row_said`: every row that said what now counts of an event, numbered in order of kind, partner, file and row."""
    every = all_kinds()
    said = (
        " union all ".join(
            f"select '{k}' as kind, k.identity, k.content, {said_sql(every[k])} as says from {k}_now k" for k in kinds
        )
        or "select '' as kind, '' as identity, '' as content, '' as says where false"
    )
    con.execute(
        f"""create or replace temp table row_said as
            select row_number() over (order by s.kind, e.partner, e.name, p.sheet, p.row, p.part, p.entry) as place,
                s.identity, s.kind, coalesce(p.key, '') as key, s.says, e.partner, e.name as file, p.sheet, p.row, p.entry as receipt
            from ({said}) s
            join part p on p.identity = s.identity and p.content = s.content and p.kind = s.kind
            join entry e on e.number = p.entry
            cross join as_of a
            where p.entry <= a.entry and p.fate <> 'faulty'
            order by place"""
    )


def _join_rows(con: Asking, asked: Sequence[Asked]) -> None:
    """Leave `row_behind`: number of a figure and of each row that said an event counted in it, in order of figures."""
    con.execute("create or replace temp table row_asked (number integer, place bigint)")
    for one in asked:
        con.execute(
            f"insert into row_asked select distinct w.number, r.place from figure_asking w cross join lateral ({one.query}) x "
            f"join row_said r on r.identity = x.identity and r.kind = '{one.kind}' where w.nth = {one.nth}"
        )
    con.execute("create or replace temp table row_behind as select number, place from row_asked order by number, place")
    con.execute("drop table row_asked")
