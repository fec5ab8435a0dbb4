"""Whether units stay, at each site and over all sites: from the views, and home again."""

from collections import defaultdict
from typing import Any

import duckdb

from pipeline.groups.group import Question, rows
from pipeline.indicators.attached import Cautions, Lives, attached
from pipeline.indicators.catalogue.retention import ENTRIES
from pipeline.indicators.figure import Figure
from pipeline.indicators.remember import Memory
from pipeline.programme import Rules

__all__ = ["ENTRIES", "behind", "figures", "missing"]


def figures(con: duckdb.DuckDBPyConnection, rules: Rules, memory: Memory) -> list[Figure]:
    """Retention at each of the programme's days."""
    return attached(*_lives(con), rules.retention_days, memory)


def _lives(con: duckdb.DuckDBPyConnection) -> tuple[list[Lives], Cautions]:
    lives = [
        Lives(site, method, int(left), _whole(right), unresolved, _whole(failed), int(units), int(misses), int(once))
        for site, method, left, right, unresolved, failed, units, misses, once in rows(
            con,
            "select site_key, method, l, r, unresolved, failed_on, units, misses, absent_once from retention_input order by all",
        )
    ]
    cautions: dict[tuple[str, str], dict[str, int]] = defaultdict(dict)
    for site, method, what, times in rows(
        con, "select site_key, method, what, times from retention_caution order by all"
    ):
        cautions[site, method][what] = int(times)
    return lives, cautions


def _whole(days: Any) -> int | None:
    return None if days is None else int(days)


def behind(figure: Figure) -> list[Question]:
    """The units of the method, and whatever was seen of them; beside them every dive at their sites."""
    units = "select unit_key from unit where method = $method and ($site is null or site_key = $site)"
    sites = "select site_key from unit where method = $method and ($site is null or site_key = $site)"
    return [
        Question("counted", "deployment", f"select identity from unit where unit_key in ({units})"),
        Question("counted", "check", f"select identity from check_stands where unit_key in ({units})"),
        Question("counted", "loss", f"select identity from loss_stands where unit_key in ({units})"),
        Question("beside", "check", f"select identity from check_now where unit_key in ({units})"),
        Question("beside", "loss", f"select identity from loss_now where unit_key in ({units})"),
        Question(
            "beside",
            "deployment",
            "select identity from deployment_now where method = $method and ($site is null or site_key = $site)",
        ),
        Question("beside", "visit", f"select identity from visit_now where site_key in ({sites})"),
        # dives that nobody told of are known by what was counted and looked at on them
        Question("beside", "survey", f"select identity from survey_now where site_key in ({sites})"),
        Question(
            "beside",
            "check",
            f"""select c.identity from check_now c left join deployment_now d on d.unit_key = c.unit_key
            where coalesce(c.site_key, d.site_key) in ({sites})""",
        ),
        Question("beside", "deployment", f"select identity from deployment_now where site_key in ({sites})"),
    ]


def missing(figure: Figure) -> str:
    """Rows in dispute about the method's units."""
    return """
    select p.entry, p.sheet, p.row, p.part from part p
    join in_dispute q on q.identity = p.identity
    where p.identity in (
        select d.identity from deployment_said d cross join as_of a
        where d.method = $method and ($site is null or d.site_key = $site) and d.happened <= a.happened)"""
