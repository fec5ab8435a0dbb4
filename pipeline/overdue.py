"""Who and what is overdue on a day: partners by the programme's rhythm, looks at sites by its visit plan."""

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from pipeline.indicators.plan_visits import Wanted, next_look
from pipeline.ledger.entry import Entry
from pipeline.programme import Rules
from pipeline.rules.night import Rhythm
from warehouse.asking import Asking


@dataclass(frozen=True)
class LatePartner:
    """A partner of whom something was expected by `due`; last: the day of its last drop, None when there was none."""

    partner: str
    due: dt.date
    last: dt.date | None
    every_days: int


@dataclass(frozen=True)
class LateLook:
    """A look at a site that was planned for `due`."""

    site: str
    what: str
    due: dt.date


def rhythms_on(rhythms: Iterable[Rhythm], day: dt.date) -> dict[str, Rhythm]:
    """The rhythm of each partner that holds on that day: the one dated last."""
    return {r.partner: r for r in sorted(rhythms, key=lambda r: r.dated) if r.dated <= day}


def late_partners(entries: Sequence[Entry], rules: Rules, day: dt.date) -> list[LatePartner]:
    """Partners whose last new drop is longer ago than their rhythm allows, counted from its dating at the earliest."""
    zone, last = rules.zone, dict[str, dt.date]()
    for e in entries:
        if e.drop and not e.retaken:
            last[e.partner] = dt.datetime.fromisoformat(e.recorded).astimezone(zone).date()
    late = []
    for partner, r in sorted(rhythms_on(rules.night.rhythms, day).items()):
        due = max(last.get(partner, r.dated), r.dated) + dt.timedelta(days=r.every_days)
        if due < day:
            late.append(LatePartner(partner, due, last.get(partner), r.every_days))
    return late


def late_looks(con: Asking, rules: Rules, day: dt.date) -> list[LateLook]:
    """Planned looks whose day, and the days of a survey round after it, are past. con: a session of the projection."""
    planted = con.sql("select site_key, planted_on from last_planting order by all").fetchall()
    looks: dict[tuple[str, str], list[dt.date]] = {}
    for site, what, happened in con.sql("select site_key, what, happened from site_look order by all").fetchall():
        looks.setdefault((site, what), []).append(happened)
    late = []
    for plan in sorted(Wanted(v.what, v.days, v.every_days) for v in rules.planning.visits):
        for site, down in planted:
            told = [d for d in looks.get((site, plan.what), ()) if d >= down]
            after = next_look(plan, down, told, rules.survey_round_days)
            due = None if after is None else down + dt.timedelta(days=after)
            if due is not None and due + dt.timedelta(days=rules.survey_round_days) < day:
                late.append(LateLook(site, plan.what, due))
    return sorted(late, key=lambda x: (x.due, x.site, x.what))
