"""From a figure home: the events behind it, and the drop, sheet and row that said each of them."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from pipeline.groups import group_of
from pipeline.indicators.figure import SCOPE, Figure
from pipeline.says import as_text, sayings
from warehouse.asking import Asking

REGISTERS = ("site", "plot", "bed", "permit")
Question = tuple[str, str, str, dict[str, Any]]
# dives by which a rule of the programme knew who was there; what else is behind the figure is in the table by then
THERE = """select v.identity from visit_now v
    join differing_word w on w.partner = v.partner and w.site_key = v.site_key and w.happened = v.happened
    join settled_by_rule b on b.identity = w.identity
    join setting_settling s on s.rule = b.rule and s.whose = 'was there'
    where b.identity in (select identity from behind)"""


@dataclass(frozen=True)
class Home:
    """One row of one drop, and the event it said.

    role: counted (its values are in the figure), beside (it gives days, areas, comparison or doubt) or left out (it is
    held, in dispute or withdrawn, and the figure says that something is missing).
    says: its filled values in our column names, those that matter first; what the key tells is left out.
    """

    role: str
    kind: str
    key: str
    identity: str
    entry: int
    partner: str
    name: str
    drop: str
    sheet: str
    row: int
    part: int
    says: str = ""


def home(con: Asking, figure: Figure) -> list[Home]:
    """Every row that said anything this figure rests on, registers included, in order of kind, partner and row."""
    given = {name: figure.of(name) or None for name in SCOPE}
    if given["site"] == "all":
        given["site"] = None
    questions = [
        (role, kind, query, _used(query, given)) for role, kind, query in group_of(figure.indicator).behind(figure)
    ]
    questions += [("beside", kind, f"select identity from {kind}_now", {}) for kind in REGISTERS]
    questions.append(("beside", "visit", THERE, {}))
    return rows_of(con, questions, _left_out(con, figure, given))


def rows_of(con: Asking, questions: Sequence[Question], more: Sequence[tuple[Any, ...]] = ()) -> list[Home]:
    """Every row that said what holds of some events. questions: role, kind, SQL that gives their `identity`, what it asks with.

    more: rows that were found otherwise, in the columns of Home, with the content in the place of what is said.
    """
    from schemas.kinds import all_kinds

    con.execute("create or replace temp table behind (role varchar, kind varchar, identity varchar)")
    for role, kind, query, given in questions:
        con.execute(f"insert into behind select distinct '{role}', '{kind}', identity from ({query})", given)
    found = con.sql(
        f"""with one as (select kind, identity, min(case when role = 'counted' then 0 else 1 end) as beside from behind group by all),
                said as (select identity, content from ({_contents(con)}))
           select case when o.beside = 0 then 'counted' else 'beside' end, o.kind, p.key, o.identity, p.entry, e.partner, e.name, e.drop,
                  p.sheet, p.row, p.part, p.content
           from one o
           join said s on s.identity = o.identity
           join part p on p.identity = s.identity and p.content = s.content and p.kind = o.kind
           join entry e on e.number = p.entry
           cross join as_of a
           where p.entry <= a.entry and p.fate <> 'faulty'
           order by 1 desc, 2, 6, 7, 9, 10, 11"""
    ).fetchall()
    every = [*found, *more, *_told_otherwise(con)]
    said = sayings(con, all_kinds(), ((kind, identity, content) for _, kind, _, identity, *_, content in every))
    return [Home(*(*row[:-1], as_text(said.get((row[1], row[3], row[-1]), ())))) for row in every]


def _told_otherwise(con: Asking) -> list[tuple[Any, ...]]:
    """Of what is behind and was settled by a rule, the rows whose word does not count; in the columns of Home."""
    return con.sql(
        """select distinct 'left out', p.kind, coalesce(p.key, ''), p.identity, p.entry, e.partner, e.name, e.drop, p.sheet, p.row,
               p.part, p.content
           from settled_by_rule b
           join (select distinct identity from behind) x on x.identity = b.identity
           join differing_word w on w.identity = b.identity and w.content <> b.content
           join part p on p.identity = w.identity and p.partner = w.partner and p.content = w.content
           join entry e on e.number = p.entry
           cross join as_of a
           where p.entry <= a.entry and p.fate <> 'faulty' order by 6, 7, 9, 10, 11"""
    ).fetchall()


def _left_out(con: Asking, figure: Figure, given: dict[str, Any]) -> list[tuple[Any, ...]]:
    """Rows that are held, in dispute or withdrawn, of which the figure says that they are missing; in the columns of Home."""
    query = group_of(figure.indicator).missing(figure)
    if not query:
        return []
    return con.sql(
        f"""select 'left out', p.kind, coalesce(p.key, ''), coalesce(p.identity, ''), p.entry, e.partner, e.name, e.drop,
                  p.sheet, p.row, p.part, coalesce(p.content, '')
            from ({query}) x
            join part p on p.entry = x.entry and p.sheet = x.sheet and p.row = x.row and p.part = x.part
            join entry e on e.number = p.entry
            cross join as_of a where p.entry <= a.entry order by 6, 7, 9, 10, 11""",
        params=_used(query, given),
    ).fetchall()


def _contents(con: Asking) -> str:
    kinds = [k for (k,) in con.sql("select distinct kind from behind order by 1").fetchall()] or ["site"]
    return " union all ".join(f"select identity, content from {k}_now" for k in kinds)


def _used(query: str, given: dict[str, Any]) -> dict[str, Any]:
    return {k: v for k, v in given.items() if f"${k}" in query}
