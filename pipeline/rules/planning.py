"""Rules on what is planned: units of the next season, the difference worth seeing, and when sites are visited."""

from dataclasses import dataclass

from pipeline.errors import BadUsage
from pipeline.toml_read import Table

LOOKS = ("visit", "check", "survey")
MOST_POINTS = 90
MOST_VISITS = 1000


@dataclass(frozen=True)
class VisitPlan:
    """When every site is looked at after its last planting: on stated days, or every so many days.

    what: a visit of any sort, a check of units, or a survey.
    """

    what: str
    days: tuple[int, ...]
    every_days: int


@dataclass(frozen=True)
class PlanningRules:
    """What the programme says of its plans. units: to be put down next season, 0 where it does not say."""

    units: int = 0
    fixing_difference_points: int = 20
    visits: tuple[VisitPlan, ...] = ()

    def of(self, what: str) -> VisitPlan | None:
        """The plan of one sort of look."""
        return next((v for v in self.visits if v.what == what), None)


def parse(top: Table) -> PlanningRules:
    """The tables [planning] and [[visit_plan]] of programme.toml; BadUsage for what is no rule."""
    t = top.table("planning", {})
    made = PlanningRules(
        units=t.whole("units", 0),
        fixing_difference_points=t.whole("fixing_difference_points", 20),
        visits=tuple(_visits(one) for one in top.tables("visit_plan")),
    )
    t.refuse_unknown()
    if not 1 <= made.fixing_difference_points <= MOST_POINTS:
        raise BadUsage(
            f"{t.where}: `fixing_difference_points` is {made.fixing_difference_points}; 1 to {MOST_POINTS} is wanted."
        )
    twice = [v.what for v in made.visits if [o.what for o in made.visits].count(v.what) > 1]
    if twice:
        raise BadUsage(f"{top.where}: [[visit_plan]] what {twice[0]} stands twice. Put its days into one.")
    return made


def _visits(t: Table) -> VisitPlan:
    days, every = tuple(sorted(set(t.wholes("days", [])))), t.whole("every_days", 0)
    made = VisitPlan(t.one_of("what", LOOKS), days, every)
    t.refuse_unknown()
    if bool(days) == bool(every):
        raise BadUsage(f"{t.where}: either `days` after planting, such as [14, 45, 90], or `every_days` is wanted.")
    if len(days) > MOST_VISITS or 0 in days:
        raise BadUsage(f"{t.where}: `days` are counted from 1, the day after planting, and are {MOST_VISITS} at most.")
    return made
