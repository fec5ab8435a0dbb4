"""From a figure home: the events behind it, and the drop, sheet and row that said each of them."""

from dataclasses import dataclass
from typing import Any

import duckdb

from pipeline.indicators.figure import Figure
from pipeline.indicators.hectares import FORMS
from pipeline.indicators.recruitment import POOLED
from pipeline.says import as_text, sayings

REGISTERS = ("site", "plot", "bed", "permit")


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


def home(con: duckdb.DuckDBPyConnection, figure: Figure) -> list[Home]:
    """Every row that said anything this figure rests on, registers included, in order of kind, partner and row."""
    from schemas.kinds import all_kinds

    con.execute("create or replace temp table behind (role varchar, kind varchar, identity varchar)")
    given = {
        name: figure.of(name) or None
        for name in ("site", "plot_kind", "species", "stage", "survey", "protocol", "placed", "method")
    }
    if given["site"] == "all":
        given["site"] = None
    for role, kind, query in _questions(figure):
        con.execute(
            f"insert into behind select distinct '{role}', '{kind}', identity from ({query})",
            _used(query, given),
        )
    for kind in REGISTERS:
        con.execute(f"insert into behind select 'beside', '{kind}', identity from {kind}_now")
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
    every = [*found, *_left_out(con, figure, given)]
    said = sayings(con, all_kinds(), ((kind, identity, content) for _, kind, _, identity, *_, content in every))
    return [Home(*(*row[:-1], as_text(said.get((row[1], row[3], row[-1]), ())))) for row in every]


def _left_out(con: duckdb.DuckDBPyConnection, figure: Figure, given: dict[str, Any]) -> list[tuple[Any, ...]]:
    """Rows that are held, in dispute or withdrawn, of which the figure says that they are missing; in the columns of Home."""
    if figure.indicator.startswith("unit retention"):
        query = """
            select p.entry, p.sheet, p.row, p.part from part p
            join in_dispute q on q.identity = p.identity
            where p.identity in (
                select d.identity from deployment_said d cross join as_of a
                where d.method = $method and ($site is null or d.site_key = $site) and d.happened <= a.happened)"""
    elif figure.of("survey"):
        query = f"""
            with dive as (
                select distinct s.partner, s.visit_key from survey_now s
                join survey_round q on q.site_key = s.site_key and q.happened = s.happened where {_ROUND})
            select h.entry, h.sheet, h.row, h.part from held_open h
            join dive d on d.partner = h.partner and d.visit_key = split_part(h.key, ' | ', 1)
            left join withdrawn w on w.identity = h.identity where h.kind = 'survey' and w.identity is null
            union
            select p.entry, p.sheet, p.row, p.part from part p
            join in_dispute q on q.identity = p.identity
            join dive d on d.partner = p.partner and d.visit_key = split_part(p.key, ' | ', 1) where p.kind = 'survey'
            union
            select w.entry, w.sheet, w.row, w.part from withdrawn_survey w
            join dive d on d.partner = w.partner and d.visit_key = w.visit_key
            where (w.species is null or w.species = $species)
                and (w.stage is null or w.stage in ($stage, 'any') or $stage = 'any')"""
    else:  # units in dispute have no area and carry no shared cost
        query = """
            select p.entry, p.sheet, p.row, p.part from part p
            join in_dispute q on q.identity = p.identity where p.kind = 'deployment'"""
    return con.sql(
        f"""select 'left out', p.kind, coalesce(p.key, ''), coalesce(p.identity, ''), p.entry, e.partner, e.name, e.drop,
                  p.sheet, p.row, p.part, coalesce(p.content, '')
            from ({query}) x
            join part p on p.entry = x.entry and p.sheet = x.sheet and p.row = x.row and p.part = x.part
            join entry e on e.number = p.entry
            cross join as_of a where p.entry <= a.entry order by 6, 7, 9, 10, 11""",
        params=_used(query, given),
    ).fetchall()


def _contents(con: duckdb.DuckDBPyConnection) -> str:
    kinds = [k for (k,) in con.sql("select distinct kind from behind order by 1").fetchall()] or ["site"]
    return " union all ".join(f"select identity, content from {k}_now" for k in kinds)


def _used(query: str, given: dict[str, Any]) -> dict[str, Any]:
    return {k: v for k, v in given.items() if f"${k}" in query}


Question = tuple[str, str, str]

_ROUND = "q.round_on = cast($survey as date) and s.site_key = $site"
_SURVEYS_OF_ROUND = f"""
    select s.identity from survey_now s
    join survey_round q on q.site_key = s.site_key and q.happened = s.happened where {_ROUND}"""
_PLANTED = "select identity from deployment_now where site_key = $site"


def _questions(figure: Figure) -> list[Question]:
    pooled = any(c.startswith(POOLED) for c in figure.estimate.cautions)
    if figure.indicator in ("density", "density near units"):
        return _density("f.plot_kind = $plot_kind", pooled)
    if figure.indicator in ("treated over control", "treated minus control"):
        return _density("f.plot_kind in ('treated', 'control')", pooled)
    if figure.indicator.startswith("unit retention"):
        return _retention()
    return _cost(figure.indicator.removesuffix(" per hectare"))


def _density(which: str, pooled: bool) -> list[Question]:
    counted = f"""
        select c.identity from counted c
        join frame f on f.partner = c.partner and f.visit_key = c.visit_key and f.plot_key = c.plot_key
            and f.frame_key = c.frame_key and f.protocol = c.protocol and f.happened = c.happened
        where f.round_on = cast($survey as date) and f.site_key = $site and f.protocol = $protocol and {which}"""
    # the frames of other sites, whose spread this figure borrows: rounds of the same season
    comparable = """
        select s.identity from survey_now s
        join survey_round q on q.site_key = s.site_key and q.happened = s.happened
        where date_diff('month', q.round_on, cast($survey as date)) between -3 and 3"""
    earlier = "select identity from counted where site_key = $site and happened <= cast($survey as date)"
    visits = f"""
        select v.identity from visit_now v
        join (select s.partner, s.visit_key from survey_now s
              join survey_round q on q.site_key = s.site_key and q.happened = s.happened where {_ROUND}) x
            on x.partner = v.partner and x.visit_key = v.visit_key"""
    return [
        ("counted", "survey", counted),
        ("beside", "survey", _SURVEYS_OF_ROUND),
        ("beside", "survey", earlier),
        ("beside", "visit", visits),
        ("beside", "deployment", _PLANTED),
        ("beside", "treatment", "select identity from treatment_now where site_key = $site"),
        ("beside", "collection", "select identity from collection_now"),  # how the tissue fared on its way
        ("beside", "handling", "select identity from handling_now"),
        *([("beside", "survey", comparable)] if pooled else []),
    ]


def _retention() -> list[Question]:
    units = "select unit_key from unit where method = $method and ($site is null or site_key = $site)"
    sites = "select site_key from unit where method = $method and ($site is null or site_key = $site)"
    return [
        ("counted", "deployment", f"select identity from unit where unit_key in ({units})"),
        ("counted", "check", f"select identity from check_stands where unit_key in ({units})"),
        ("counted", "loss", f"select identity from loss_stands where unit_key in ({units})"),
        ("beside", "check", f"select identity from check_now where unit_key in ({units})"),
        ("beside", "loss", f"select identity from loss_now where unit_key in ({units})"),
        (
            "beside",
            "deployment",
            "select identity from deployment_now where method = $method and ($site is null or site_key = $site)",
        ),
        ("beside", "visit", f"select identity from visit_now where site_key in ({sites})"),
        # dives that nobody told of are known by what was counted and looked at on them
        ("beside", "survey", f"select identity from survey_now where site_key in ({sites})"),
        (
            "beside",
            "check",
            f"""select c.identity from check_now c left join deployment_now d on d.unit_key = c.unit_key
            where coalesce(c.site_key, d.site_key) in ({sites})""",
        ),
        ("beside", "deployment", f"select identity from deployment_now where site_key in ({sites})"),
    ]


def _cost(form: str) -> list[Question]:
    """Costs of this form at this site or shared with it are counted; the others weigh in how shared ones are parted."""
    counted = f"""
        select c.identity from cost_stands c
        left join cost_place p on p.identity = c.identity
        where c.form = '{form}' and ($site is null or c.share_key is not null or p.site_key = $site)"""
    return [
        *([("counted", "cost", counted)] if form in FORMS else []),
        ("beside", "cost", "select identity from cost_now"),
        ("beside", "deployment", "select identity from deployment_now"),
        (
            "beside",
            "visit",
            "select identity from visit_now where visit_key in (select for_key from cost_now where for_kind = 'visit')",
        ),
        ("beside", "collection", "select identity from collection_now"),
        ("beside", "handling", "select identity from handling_now"),
    ]
