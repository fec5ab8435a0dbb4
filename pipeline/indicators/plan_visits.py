"""The next planned look at each site: the day it is planned for and why. Whether anybody dives is not for a table to say."""

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from typing import NamedTuple

from pipeline.indicators.estimate import Estimate, not_estimable
from pipeline.indicators.figure import Figure, scope

UNIT, METHOD = "days after planting", "the programme's visit plan"
DUE = "due when conditions and your supervisor allow"


class Wanted(NamedTuple):
    """One sort of look as the programme plans it: on stated days after the last planting, or every so many days."""

    what: str
    days: tuple[int, ...]
    every_days: int


def next_looks(
    planted: Mapping[str, dt.date], looks: Mapping[tuple[str, str], Sequence[dt.date]], plans: Iterable[Wanted], near_days: int
) -> list[Figure]:  # fmt: skip
    """The next look of each sort at each planted site.

    planted: last day of planting by site. looks: days by site and sort. near_days: a look that many days early counts as
    the planned one.
    """
    figures = []
    for plan in sorted(plans):
        for site, day in sorted(planted.items()):
            told = [d for d in looks.get((site, plan.what), ()) if d >= day]
            figures.append(Figure(f"next {plan.what}", scope(site=site), _next(plan, day, sorted(told), near_days)))
    return figures


def next_look(plan: Wanted, planted: dt.date, looks: Sequence[dt.date], near_days: int) -> int | None:
    """Days after planting on which the next look is planned, None when no more is. looks: days since, in order."""
    last = (looks[-1] - planted).days if looks else 0
    if not plan.days:
        return last + plan.every_days
    return next((d for d in plan.days if d > (last + near_days if looks else 0)), None)


def _next(plan: Wanted, planted: dt.date, looks: Sequence[dt.date], near_days: int) -> Estimate:
    planned = next_look(plan, planted, looks, near_days)
    if planned is None:
        after = (looks[-1] - planted).days
        why = f"no {plan.what} is planned after the last one, on {looks[-1]}, day {after} after planting"
        return not_estimable(why, unit=UNIT, n=len(looks), n_of=f"{plan.what}s since planting", estimator=METHOD)
    since = f"the last {plan.what} was on {looks[-1]}" if looks else f"no {plan.what} since planting is told of"
    why = f"every {plan.every_days} days" if plan.every_days else f"day {planned} after planting on {planted}"
    note = f"planned for {planted + dt.timedelta(days=planned)} ({why}; {since}): {DUE}"
    return Estimate(
        "estimated", UNIT, len(looks), f"{plan.what}s since planting", METHOD, float(planned), note=note
    )  # fmt: skip
