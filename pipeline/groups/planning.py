"""What to plan with, from the programme's own data: from the views, and home again."""

from collections import defaultdict

from pipeline.groups.group import Question, rows
from pipeline.indicators.catalogue.planning import ENTRIES
from pipeline.indicators.figure import Figure
from pipeline.indicators.plan_cost import FORMS, Spent, next_season
from pipeline.indicators.plan_frames import ControlFrames, frames_to_plan
from pipeline.indicators.plan_units import Gone, units_to_plan
from pipeline.indicators.plan_visits import Wanted, next_looks
from pipeline.indicators.remember import Memory
from pipeline.indicators.visit_power import visit_days
from pipeline.programme import Rules
from warehouse.views import Views

__all__ = ["ENTRIES", "behind", "figures", "missing"]


# nothing was planted in a control, so how tissue fared on its way is no caution there
_OF_FRAMES = "why not like 'units whose tissue%'"


def figures(con: Views, rules: Rules, memory: Memory) -> list[Figure]:
    """Frames, units, visits and costs of what comes next."""
    return [*_frames(con, rules, memory), *_units(con, rules, memory), *_visits(con, rules), *_cost(con, rules)]


def _frames(con: Views, rules: Rules, memory: Memory) -> list[Figure]:
    controls = [
        ControlFrames(site, day, species, stage, protocol, int(found), area, int(n))
        for site, day, species, stage, protocol, found, area, n in rows(
            con,
            "select site_key, round_on, species, stage, protocol, count, area_m2, frames from density_input "
            "where plot_kind = 'control' and placed = 'plot' order by all",
        )
    ]
    around = defaultdict(list)
    for site, day, why in rows(
        con, f"select site_key, round_on, why from density_caution where {_OF_FRAMES} order by all"
    ):
        around[site, day].append(why)
    return frames_to_plan(controls, around, float(rules.zero_k), memory)


def _units(con: Views, rules: Rules, memory: Memory) -> list[Figure]:
    found = rows(con, "select method, site_key, l, r, units from unit_known order by all")
    gone = [Gone(method, site, int(left), None if r is None else int(r), int(n)) for method, site, left, r, n in found]
    [(visits, failed)] = rows(con, "select count(*), count(case when outcome <> 'found' then 1 end) from visit_any")
    plan = rules.planning.of("check") or rules.planning.of("visit")
    days = {d: visit_days(plan.days, plan.every_days, d) if plan else () for d in rules.retention_days}
    missed = int(failed) / int(visits) if visits else 0.0
    points = rules.planning.fixing_difference_points
    return units_to_plan(gone, rules.retention_days, points, days, missed, memory)


def _visits(con: Views, rules: Rules) -> list[Figure]:
    planted = dict(rows(con, "select site_key, planted_on from last_planting order by all"))
    looks = defaultdict(list)
    for site, what, day in rows(con, "select site_key, what, happened from site_look order by all"):
        looks[site, what].append(day)
    plans = [Wanted(v.what, v.days, v.every_days) for v in rules.planning.visits]
    return next_looks(planted, looks, plans, rules.survey_round_days)


def _cost(con: Views, rules: Rules) -> list[Figure]:
    spent = [
        Spent(form, per_unit, int(hundredths), int(costs))
        for form, per_unit, hundredths, costs in rows(
            con, "select form, per_unit, hundredths, costs from programme_cost order by all"
        )
    ]
    put_down = {int(y): int(n) for y, n in rows(con, "select in_year, units from season_planted order by all")}
    if not put_down and not spent:
        return []
    [(treated, waiting)] = rows(
        con,
        "select (select coalesce(sum(area_m2), 0) from treated_area), (select count(*) from waiting where kind = 'cost')",
    )
    return next_season(
        spent, put_down, rules.planning.units, rules.currency, treated, rules.trial_below_m2, int(waiting)
    )  # fmt: skip


def _all(*kinds: str) -> list[Question]:
    return [Question("beside", kind, f"select identity from {kind}_now") for kind in kinds]


def behind(figure: Figure) -> list[Question]:
    """What the plan starts from is counted; beside it all that gives days, rounds and places."""
    name = figure.indicator
    if name in FORMS.values():
        form = next(f for f, indicator in FORMS.items() if indicator == name)
        return [
            Question("counted", "cost", f"select identity from cost_stands where form = '{form}'"),
            Question("counted", "deployment", "select identity from deployment_stands"),
            *_all("cost", "deployment", "visit", "collection", "handling"),
        ]
    if name.startswith("frames"):
        counted = """
            select c.identity from counted c
            join frame f on f.partner = c.partner and f.visit_key = c.visit_key and f.plot_key = c.plot_key
                and f.frame_key = c.frame_key and f.protocol = c.protocol and f.happened = c.happened
            where f.protocol = $protocol and f.plot_kind = 'control'"""
        return [Question("counted", "survey", counted), *_all("survey")]
    if name.startswith("next"):
        here = "select identity from {kind}_now where site_key = $site"
        checks = """
            select c.identity from check_now c left join deployment_now d on d.unit_key = c.unit_key
            where coalesce(c.site_key, d.site_key) = $site
            union
            select c.identity from check_now c
            join visit_any v on v.partner = c.partner and v.visit_key = c.visit_key where v.site_key = $site"""
        return [
            Question("counted", "deployment", "select identity from deployment_stands where site_key = $site"),
            *(Question("beside", kind, here.format(kind=kind)) for kind in ("deployment", "visit", "survey")),
            Question("beside", "check", checks),
        ]
    of_method = "select unit_key from unit where method = $method"
    return [
        Question("counted", "deployment", "select identity from unit where method = $method"),
        Question("counted", "check", f"select identity from check_stands where unit_key in ({of_method})"),
        Question("counted", "loss", f"select identity from loss_stands where unit_key in ({of_method})"),
        *_all("deployment", "visit", "check", "loss", "survey"),
    ]


def missing(figure: Figure) -> str:
    """Rows of surveys that are held, in dispute or withdrawn: their frames are in doubt and left out."""
    if not figure.indicator.startswith("frames"):
        return ""
    return """
    select h.entry, h.sheet, h.row, h.part from held_open h where h.kind = 'survey'
    union
    select p.entry, p.sheet, p.row, p.part from part p join in_dispute q on q.identity = p.identity where p.kind = 'survey'
    union
    select entry, sheet, row, part from withdrawn_survey"""
