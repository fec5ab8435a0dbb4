"""What a treated hectare cost: from the views, and home again."""

from collections import defaultdict
from typing import Any

import duckdb

from pipeline.groups.group import Question, rows
from pipeline.indicators.catalogue.cost import ENTRIES
from pipeline.indicators.figure import Figure
from pipeline.indicators.hectares import FORMS, Area, Paid, hectares
from pipeline.indicators.remember import Memory
from pipeline.programme import Rules

__all__ = ["ENTRIES", "behind", "figures", "missing"]


def figures(con: duckdb.DuckDBPyConnection, rules: Rules, memory: Memory) -> list[Figure]:
    """Treated area, and each form of cost over it."""
    idle, waiting = _idle_units(con), _waiting_costs(con)
    return hectares(*_costs(con), rules.currency, rules.trial_below_m2, waiting, memory, idle)


def _costs(con: duckdb.DuckDBPyConnection) -> tuple[list[Paid], list[Area]]:
    paid = [
        Paid(site, share, form, currency, per_unit, dated, int(hundredths))
        for site, share, form, currency, per_unit, dated, hundredths in rows(
            con,
            "select site_key, share_key, form, currency, per_unit, rate_dated, sum(hundredths) from cost_input "
            "group by all order by all",
        )
    ]
    parted: dict[tuple[Any, ...], list[tuple[str, int]]] = defaultdict(list)
    for identity, form, currency, per_unit, dated, hundredths, site, units in rows(
        con,
        "select identity, form, currency, per_unit, rate_dated, hundredths, site_key, units from cost_parted order by all",
    ):
        parted[identity, form, currency, per_unit, dated, int(hundredths)].append((site, int(units)))
    for (_, form, currency, per_unit, dated, hundredths), parts in parted.items():
        paid.append(Paid(None, None, form, currency, per_unit, dated, hundredths, tuple(parts)))
    areas = [
        Area(site, int(units), area)
        for site, units, area in rows(con, "select site_key, units, area_m2 from treated_area order by all")
    ]
    return paid, areas


def _idle_units(con: duckdb.DuckDBPyConnection) -> int:
    """Units in dispute or waiting: they count in no area, and no shared cost is parted by them."""
    [(n,)] = rows(
        con,
        "select count(*) from (select unit_key from unit_in_dispute union "
        "select n.unit_key from deployment_now n join waiting w on w.kind = 'deployment' and w.identity = n.identity)",
    )
    return int(n)


def _waiting_costs(con: duckdb.DuckDBPyConnection) -> int:
    [(n,)] = rows(con, "select count(*) from waiting where kind = 'cost'")
    return int(n)


def behind(figure: Figure) -> list[Question]:
    """Costs of this form at this site or shared with it are counted; the others weigh in how shared ones are parted."""
    form = figure.indicator.removesuffix(" per hectare")
    counted = f"""
        select c.identity from cost_stands c
        left join cost_place p on p.identity = c.identity
        where c.form = '{form}' and ($site is null or c.share_key is not null or p.site_key = $site)"""
    return [
        *([Question("counted", "cost", counted)] if form in FORMS else []),
        Question("beside", "cost", "select identity from cost_now"),
        Question("beside", "deployment", "select identity from deployment_now"),
        Question(
            "beside",
            "visit",
            "select identity from visit_now where visit_key in (select for_key from cost_now where for_kind = 'visit')",
        ),
        Question("beside", "collection", "select identity from collection_now"),
        Question("beside", "handling", "select identity from handling_now"),
    ]


def missing(figure: Figure) -> str:
    """Units in dispute have no area and carry no shared cost."""
    return """
    select p.entry, p.sheet, p.row, p.part from part p
    join in_dispute q on q.identity = p.identity where p.kind = 'deployment'"""
