"""Densities by site, plot kind, species, stage and round, and treated plots against controls: from the views, and home again."""

import datetime as dt
from collections import defaultdict

import duckdb

from pipeline.groups.group import Question, rows
from pipeline.indicators.catalogue.recruitment import ENTRIES
from pipeline.indicators.compare import compare
from pipeline.indicators.figure import Figure
from pipeline.indicators.recruitment import POOLED, Around, Cell, Frames, recruitment
from pipeline.indicators.remember import Memory
from pipeline.programme import Rules

__all__ = ["ENTRIES", "behind", "figures", "missing"]


def figures(con: duckdb.DuckDBPyConnection, rules: Rules, memory: Memory) -> list[Figure]:
    """Densities and comparisons."""
    frames, around = _frames(con), _around(con, rules)
    return [*recruitment(frames, around, memory), *compare(frames, around, memory)]


def _frames(con: duckdb.DuckDBPyConnection) -> Frames:
    frames: Frames = defaultdict(list)
    for *cell, count, area, n in rows(
        con,
        "select site_key, plot_kind, species, stage, round_on, protocol, placed, count, area_m2, frames "
        "from density_input order by all",
    ):
        frames[Cell(*cell)].append((int(count), area, int(n)))
    return dict(frames)


def _around(con: duckdb.DuckDBPyConnection, rules: Rules) -> Around:
    def grouped(query: str) -> dict[tuple[str, dt.date], list[str]]:
        found: dict[tuple[str, dt.date], list[str]] = defaultdict(list)
        for site, day, text in rows(con, query):
            found[site, day].append(text)
        return dict(found)

    withdrawn: dict[tuple[str, dt.date], list[tuple[str | None, str | None, int]]] = defaultdict(list)
    for site, day, species, stage, n in rows(
        con, "select site_key, round_on, species, stage, taken_back from withdrawn_beside order by all"
    ):
        withdrawn[site, day].append((species, stage, int(n)))
    return Around(
        cautions=grouped("select site_key, round_on, why from density_caution order by all"),
        withdrawn=withdrawn,
        first_down=dict(rows(con, "select site_key, first_down from first_down")),
        unequal=grouped("select site_key, round_on, action from treatment_gap order by all"),
        off_protocol=[
            (site, kind, day, protocol, species, stage, int(n))
            for site, kind, day, protocol, species, stage, n in rows(
                con, "select site_key, plot_kind, round_on, protocol, species, stage, rows_counted from off_protocol order by all"
            )
        ],
        first_meaningful_day=rules.first_meaningful_day,
        zero_k=float(rules.zero_k),
    )  # fmt: skip


_ROUND = "q.round_on = cast($survey as date) and s.site_key = $site"
_SURVEYS_OF_ROUND = f"""
    select s.identity from survey_now s
    join survey_round q on q.site_key = s.site_key and q.happened = s.happened where {_ROUND}"""
_PLANTED = "select identity from deployment_now where site_key = $site"


def behind(figure: Figure) -> list[Question]:
    """The rows counted in the frames; beside them all else that was seen, planted and done there."""
    pooled = any(c.startswith(POOLED) for c in figure.estimate.cautions)
    arms = figure.indicator in ("treated over control", "treated minus control")
    which = "f.plot_kind in ('treated', 'control')" if arms else "f.plot_kind = $plot_kind"
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
        Question("counted", "survey", counted),
        Question("beside", "survey", _SURVEYS_OF_ROUND),
        Question("beside", "survey", earlier),
        Question("beside", "visit", visits),
        Question("beside", "deployment", _PLANTED),
        Question("beside", "treatment", "select identity from treatment_now where site_key = $site"),
        Question("beside", "collection", "select identity from collection_now"),  # how the tissue fared on its way
        Question("beside", "handling", "select identity from handling_now"),
        *([Question("beside", "survey", comparable)] if pooled else []),
    ]


def missing(figure: Figure) -> str:
    """Rows of the round's dives that are held, in dispute or withdrawn."""
    return f"""
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
