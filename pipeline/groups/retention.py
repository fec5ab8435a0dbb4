"""Whether units stay, at each site and over all sites: from the views, and home again."""

from collections import defaultdict
from typing import Any

from pipeline.groups.group import Question, rows
from pipeline.groups.units import watched
from pipeline.indicators.attached import attached, doubted, half, not_found, smooth
from pipeline.indicators.catalogue.retention import ENTRIES
from pipeline.indicators.detection import Looks, detection
from pipeline.indicators.figure import Figure
from pipeline.indicators.held_by import Sorted, held_by
from pipeline.indicators.remember import Memory
from pipeline.indicators.story import Cautions, Lives, stories
from pipeline.programme import Rules
from warehouse.views import Views

__all__ = ["ENTRIES", "behind", "figures", "missing"]

SORTS = ("fixing", "substrate", "depth", "partner")


def figures(con: Views, rules: Rules, memory: Memory) -> list[Figure]:
    """Retention at each of the programme's days, what it is by and rests on, and how sure an absence is."""
    around, days = _cautions(con), rules.retention_days
    told = stories(_lives(con, "retention_input"), around)
    beside = {(s.site, s.method): s.cautions for s in told}
    return [
        *attached(told, days, memory),
        *smooth(told, days, memory),
        *doubted(told, days, memory),
        *not_found(told, days, memory),
        *half(told, memory),
        *held_by(_sorted(con), around, days, memory),
        *attached(stories(_lives(con, "work_input"), _torn_cautions(con, around)), days, memory, "working retention"),
        *detection(_looks(con), beside),
    ]


def _lives(con: Views, view: str) -> list[Lives]:
    return [
        Lives(site, method, int(left), _whole(right), unresolved, _whole(failed), int(units), int(misses), int(once))
        for site, method, left, right, unresolved, failed, units, misses, once in rows(
            con,
            f"select site_key, method, l, r, unresolved, failed_on, units, misses, absent_once from {view} order by all",
        )
    ]


def _sorted(con: Views) -> list[Sorted]:
    return [
        Sorted(sort, value or "", Lives(site, method, int(left), _whole(right), unresolved, _whole(failed), *map(int, n)))
        for sort, value, site, method, left, right, unresolved, failed, *n in rows(
            con,
            "select sort, value, site_key, method, l, r, unresolved, failed_on, units, misses, absent_once "
            "from retention_by order by all",
        )
    ]  # fmt: skip


def _looks(con: Views) -> list[Looks]:
    return [
        Looks(site, method, int(misses), int(found))
        for site, method, misses, found in rows(
            con, "select site_key, method, misses, found from looked_again order by all"
        )
    ]


def _cautions(con: Views) -> Cautions:
    cautions: dict[tuple[str, str], dict[str, int]] = defaultdict(dict)
    for site, method, what, times in rows(
        con, "select site_key, method, what, times from retention_caution order by all"
    ):
        cautions[site, method][what] = int(times)
    return cautions


def _torn_cautions(con: Views, around: Cautions) -> Cautions:
    cautions: dict[tuple[str, str], dict[str, int]] = defaultdict(dict, {k: dict(v) for k, v in around.items()})
    for site, method, times in rows(
        con, "select site_key, method, sum(called_whole_after) from work_input group by all order by all"
    ):
        cautions[site, method]["times a unit seen torn or empty was called attached later, and counts as torn"] = int(
            times
        )
    return cautions


def _whole(days: Any) -> int | None:
    return None if days is None else int(days)


def behind(figure: Figure) -> list[Question]:
    """The units of the method, and whatever was seen of them; beside them every dive at their sites."""
    units = "select unit_key from unit where method = $method and ($site is null or site_key = $site)"
    sites = "select site_key from unit where method = $method and ($site is null or site_key = $site)"
    counted = units
    for sort in SORTS:
        if figure.of(sort):  # the other units of the method stand beside: what they have in common is told of them
            counted += f" and unit_key in (select unit_key from unit_sort where sort = '{sort}' and value = ${sort})"
    return [
        Question("counted", "deployment", f"select identity from unit where unit_key in ({counted})"),
        Question(
            "beside",
            "deployment",
            "select identity from deployment_now where method = $method and ($site is null or site_key = $site)",
        ),
        *watched(counted, units, sites),
    ]


def missing(figure: Figure) -> str:
    """Rows in dispute about the method's units."""
    return """
    select p.entry, p.sheet, p.row, p.part from part p
    join in_dispute q on q.identity = p.identity
    where p.identity in (
        select d.identity from deployment_said d cross join as_of a
        where d.method = $method and ($site is null or d.site_key = $site) and d.happened <= a.happened)"""
