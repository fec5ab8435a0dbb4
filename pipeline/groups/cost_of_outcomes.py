"""What a retained unit, a recruit and a hectare that meets the rule cost: from costs and the figures of other groups."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import replace

from pipeline.groups import cost, recruitment, retention
from pipeline.groups.group import Group, Question, rows
from pipeline.indicators.catalogue.cost_of_outcomes import ENTRIES
from pipeline.indicators.figure import Figure
from pipeline.indicators.outcomes import DIFFERENCE, RECRUIT, RETAINED, outcomes
from pipeline.indicators.remember import Memory
from pipeline.programme import Rules
from warehouse.views import Views

__all__ = ["ENTRIES", "behind", "figures", "missing"]


def figures(con: Views, rules: Rules, memory: Memory, made: Sequence[Figure]) -> list[Figure]:
    """Costs over what came of them. made: the figures of other groups."""
    wait = dt.timedelta(days=rules.first_meaningful_day)
    recruits_from = {site: day + wait for site, day in rows(con, "select site_key, first_down from first_down")}
    plots_whole = rules.treated_area_rule == "plot area"
    return outcomes(cost.books(con, rules), made, rules.release_window_days, recruits_from, plots_whole)


def behind(figure: Figure) -> list[Question]:
    """The costs, and the rows behind what they are divided by."""
    asked = cost.behind(figure)
    if _of_all_recruits(figure):
        asked.append(Question("counted", "survey", _FIRST_FRAMES))
        asked += [Question("beside", k, f"select identity from {k}_now") for k in ("survey", "visit", "treatment")]
    if figure.of("rule"):  # the verdicts of all sites
        asked.append(Question("counted", "survey", "select identity from survey_stands"))
        asked += [Question("beside", k, f"select identity from {k}_now") for k in ("survey", "visit", "treatment")]
    for f, group in _divided_by(figure):
        asked += group.behind(f)
    return asked


def missing(figure: Figure) -> str:
    """What is missing from the costs and from what they are divided by."""
    told = [cost.missing(figure), *(group.missing(f) for f, group in _divided_by(figure))]
    told += [_ALL_SURVEYS] if _of_all_recruits(figure) or figure.of("rule") else []
    return " union ".join(f"select entry, sheet, row, part from ({t})" for t in told if t)


def _divided_by(figure: Figure) -> list[tuple[Figure, Group]]:
    """The figure of another group that the cost is divided by, and that group; none where there was none to divide by."""
    if figure.indicator.endswith(RETAINED) and figure.of("method"):
        name = "unit retention over sites" if figure.of("site") == "all" else "unit retention"
    elif figure.indicator.endswith(RECRUIT) and figure.of("survey"):
        name = DIFFERENCE
    else:
        return []
    groups: tuple[Group, ...] = (recruitment, retention)
    return [(replace(figure, indicator=name), g) for g in groups if name in {e.name for e in g.ENTRIES}]


# the recruits of all sites: frames of the first round of each site in which they can be expected and compared
_FIRST_FRAMES = """
    with due as (
        select t.site_key, min(t.round_on) as round_on
        from density_input t
        join density_input c on c.site_key = t.site_key and c.round_on = t.round_on and c.protocol = t.protocol
            and c.species = t.species and c.stage = t.stage and c.placed = t.placed and c.plot_kind = 'control'
        join first_down d on d.site_key = t.site_key
        left join treatment_gap g on g.site_key = t.site_key and g.round_on = t.round_on
        cross join setting_cost s
        where t.plot_kind = 'treated' and t.placed = 'plot' and t.species = $species and t.stage = 'recruit'
            and t.protocol = $protocol and g.site_key is null
            and date_diff('day', d.first_down, t.round_on) >= s.first_meaningful_day
        group by t.site_key)
    select c.identity from counted c
    join frame f on f.partner = c.partner and f.visit_key = c.visit_key and f.plot_key = c.plot_key
        and f.frame_key = c.frame_key and f.protocol = c.protocol and f.happened = c.happened
    join due l on l.site_key = f.site_key and l.round_on = f.round_on
    where f.protocol = $protocol and f.plot_kind in ('treated', 'control')"""
_ALL_SURVEYS = """
    select h.entry, h.sheet, h.row, h.part from held_open h
    left join withdrawn w on w.identity = h.identity where h.kind = 'survey' and w.identity is null
    union
    select p.entry, p.sheet, p.row, p.part from part p join in_dispute q on q.identity = p.identity where p.kind = 'survey'
    union
    select w.entry, w.sheet, w.row, w.part from withdrawn_survey w"""


def _of_all_recruits(figure: Figure) -> bool:
    return figure.indicator.endswith(RECRUIT) and figure.of("site") == "all" and figure.of("species") != ""
