"""Of all figures at once the rows that are counted in them, as pages tell them."""

from collections import defaultdict
from collections.abc import Sequence

from pipeline.counted import MANY, counted_in
from pipeline.indicators.figure import Figure
from pipeline.pages.told import Row, Span
from pipeline.says import as_text, sayings
from warehouse.asking import Asking


def rows_behind(con: Asking, figures: Sequence[Figure]) -> tuple[dict[str, tuple[int, ...]], list[Row]]:
    """By figure the places, in the list beside it, of every row that said an event counted in it.

    con: a session of `warehouse.database.reading`.
    """
    pairs = counted_in(con, figures)
    rows = _rows(con)
    at: dict[str, list[int]] = defaultdict(list)
    for i, row in enumerate(rows):
        at[row.identity].append(i)
    found: dict[str, set[int]] = defaultdict(set)
    for figure, identity in pairs:
        found[figure].update(at[identity])
    return {figure: tuple(sorted(places)) for figure, places in found.items()}, rows


def spans_behind(con: Asking) -> dict[str, list[Span]]:
    """By figure the files, and from which row to which, of readings counted in it. Call after `rows_behind`."""
    found: dict[str, list[Span]] = defaultdict(list)
    for nth, query in con.sql("select nth, query from asked_of_many order by nth").fetchall():
        rows = con.sql(
            f"""select w.figure, e.partner, e.name, p.sheet, p.entry, min(p.row), max(p.row), count(distinct p.row)
                from figure_asking w cross join lateral ({query}) x
                join {MANY}_now k on k.identity = x.identity
                join part p on p.identity = k.identity and p.content = k.content and p.kind = '{MANY}' and p.fate <> 'faulty'
                join entry e on e.number = p.entry
                cross join as_of a
                where w.nth = {nth} and p.entry <= a.entry
                group by w.figure, e.partner, e.name, p.sheet, p.entry order by 2, 3, 4, 5"""
        ).fetchall()
        for figure, *where in rows:
            found[figure].append(Span(*where))
    return found


def _rows(con: Asking) -> list[Row]:
    """Every row that said what now counts of an event in `counted_in`, in order of kind, partner, file and row."""
    from schemas.kinds import all_kinds

    kinds = [k for (k,) in con.sql("select distinct kind from counted_in order by 1").fetchall()]
    if not kinds:
        return []
    contents = " union all ".join(f"select '{k}' as kind, identity, content from {k}_now" for k in kinds)
    found = con.sql(
        f"""with one as (select distinct kind, identity from counted_in), said as ({contents})
            select o.identity, o.kind, coalesce(p.key, ''), p.content, e.partner, e.name, p.sheet, p.row, p.entry
            from one o
            join said s on s.kind = o.kind and s.identity = o.identity
            join part p on p.identity = s.identity and p.content = s.content and p.kind = o.kind
            join entry e on e.number = p.entry
            cross join as_of a
            where p.entry <= a.entry and p.fate <> 'faulty'
            order by o.kind, e.partner, e.name, p.sheet, p.row, p.part, p.entry"""
    ).fetchall()
    said = sayings(con, all_kinds(), ((kind, identity, content) for identity, kind, _, content, *_ in found))
    return [
        Row(identity, kind, key, as_text(said.get((kind, identity, content), ())), *where)
        for identity, kind, key, content, *where in found
    ]
