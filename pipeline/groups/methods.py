"""What each method cost where it can be told apart: from costs by method and recruits beyond control, and home again."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import replace

from pipeline.groups import cost, recruitment
from pipeline.groups.group import Question, rows
from pipeline.indicators.by_method import OVER_SITES
from pipeline.indicators.catalogue.methods import ENTRIES
from pipeline.indicators.figure import Figure
from pipeline.indicators.methods import PER_RECRUIT, MethodArea, methods
from pipeline.indicators.remember import Memory
from pipeline.programme import Rules
from warehouse.views import Views

__all__ = ["ENTRIES", "behind", "figures", "missing"]


def figures(con: Views, rules: Rules, memory: Memory, made: Sequence[Figure]) -> list[Figure]:
    """Costs of every method per hectare and per recruit. made: the figures of other groups."""
    areas: dict[str, dict[str, MethodArea]] = defaultdict(dict)
    for site, method, units, alone, m2 in rows(
        con, "select site_key, method, units, units_alone, area_m2 from method_area order by all"
    ):
        areas[method][site] = MethodArea(int(units), int(alone), m2)
    return methods(made, areas, rules.trial_below_m2)


def behind(figure: Figure) -> list[Question]:
    """The costs, and the frames behind the recruits that they are divided by."""
    return cost.behind(figure) + (recruitment.behind(recruits) if (recruits := _divided_by(figure)) else [])


def missing(figure: Figure) -> str:
    """What is missing from the costs and from the recruits."""
    recruits = _divided_by(figure)
    told = [cost.missing(figure), *([recruitment.missing(recruits)] if recruits else [])]
    return " union ".join(f"select entry, sheet, row, part from ({t})" for t in told)


def _divided_by(figure: Figure) -> Figure | None:
    """The mean over sites of the same method, whose frames these are; None where the cost is not of recruits."""
    return replace(figure, indicator=OVER_SITES) if figure.indicator.endswith(PER_RECRUIT) else None
