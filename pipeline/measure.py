"""From the views to figures: SQL reduces, the estimators finish. Joins the groups of indicators for `run.py`."""

from collections.abc import Sequence
from dataclasses import dataclass

from pipeline.groups import GROUPS, LATER, group_of
from pipeline.groups.group import rows
from pipeline.indicators.figure import Figure
from pipeline.indicators.remember import Memory
from pipeline.programme import Rules
from warehouse.views import Views


@dataclass(frozen=True)
class Standing:
    """How the ledger stands behind the figures: events by kind, and what waits and why."""

    events: dict[str, int]
    remarks: list[tuple[str, str, str, str, str]]  # kind, identity, rule, effect, why


def measure(con: Views, rules: Rules, memory: Memory, indicator: str = "") -> list[Figure]:
    """Every figure of the catalogue, in one order. con: the views, on whichever engine.

    indicator: a group alone is computed, the one that makes this figure, unless it rests on those of others.
    """
    alone = [group for group in GROUPS if group is group_of(indicator)] if indicator else []
    made = [f for group in alone or GROUPS for f in group.figures(con, rules, memory)]
    later = [] if alone else [f for group in LATER for f in group.figures(con, rules, memory, made)]
    return sorted([*made, *later], key=lambda f: (f.indicator, f.scope))


def standing(con: Views, kinds: Sequence[str]) -> Standing:
    """How many events stand, by kind, and every rule that speaks of one."""
    remarks = rows(con, "select kind, identity, rule, effect, why from standing order by all")
    events = {k: int(rows(con, f"select count(*) from {k}_stands")[0][0]) for k in kinds}
    return Standing(events, [(kind, identity, rule, effect, why) for kind, identity, rule, effect, why in remarks])
