"""What is recorded as taken and placed under each permit, by all partners together. It never says that a permit was kept."""

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from decimal import Decimal
from typing import NamedTuple

from pipeline.indicators.estimate import Estimate, not_estimable
from pipeline.indicators.figure import Figure, scope

EVENTS = {"collection": "cuttings", "deployment": "units put down", "treatment": "plots prepared"}
UNKNOWN = "what was not reported is not known"


class Permit(NamedTuple):
    """A permit as its paper states it; quota and unit are None where it names none."""

    permit: str
    activity: str
    quota: Decimal | None
    unit: str | None
    valid_from: dt.date
    valid_to: dt.date
    species: str | None
    report_due: dt.date | None
    status: str | None


class Used(NamedTuple):
    """Events of one kind that name a permit, or none, summed in one unit. untold: those that do not say how much.

    other_activity: the permit allows something else, so that these are not counted under it.
    """

    permit: str | None
    kind: str
    other_activity: bool
    unit: str | None
    events: int
    amount: Decimal | None
    untold: int
    out_of_dates: int
    other_species: int
    partners: int
    waiting: int
    last_on: dt.date | None


def takings(
    used: Iterable[Used], permits: Mapping[str, Permit], passed: Mapping[str, dt.date], other_tissue: Mapping[str, int]
) -> list[Figure]:
    """For each permit registered or named: what is recorded under it and the share of its quota; and events that name none.

    passed: the day on which what is recorded passed the quota. other_tissue: units with tissue of another species.
    """
    by_permit: dict[str, list[Used]] = {p: [] for p in permits}
    bare: dict[str, int] = {}
    for u in used:
        if u.permit is None:
            bare[u.kind] = bare.get(u.kind, 0) + u.events
        else:
            by_permit.setdefault(u.permit, []).append(u)
    figures = []
    for key, told in sorted(by_permit.items()):
        permit = permits.get(key)
        beside = _cautions(told, permit, passed.get(key), other_tissue.get(key, 0))
        estimate = recorded(key, [u for u in told if not u.other_activity], permit).with_cautions(*beside)
        figures.append(Figure("recorded under a permit", scope(permit=key), estimate))
        if permit is not None and permit.quota is not None:
            share = share_of_quota(estimate, permit.quota).with_cautions(*beside)
            figures.append(Figure("share of a permit's quota", scope(permit=key), share))
    for kind, n in sorted(bare.items()):
        if n:
            estimate = Estimate("estimated", "events", n, EVENTS[kind], "counted", float(n), note=UNKNOWN)
            figures.append(Figure("recorded without a permit", scope(category=EVENTS[kind]), estimate))
    return figures


def recorded(key: str, told: Sequence[Used], permit: Permit | None) -> Estimate:
    """The sum of what is recorded; at least that much where some events do not say how much."""
    events, unit = sum(u.events for u in told), (permit.unit if permit is not None else None)
    units = sorted({u.unit or "unnamed units" for u in told if u.events})
    if unit is None and len(units) > 1:
        why = f"amounts are told in several units: {', '.join(units)}"
        return not_estimable(why, unit="amount", n=events, n_of="events")
    unit = unit or (units[0] if units else "events")
    amount, untold = sum((u.amount or Decimal(0) for u in told), Decimal(0)), sum(u.untold for u in told)
    if events and untold == events:
        why = f"none of its {events} events says how much in {unit}; {UNKNOWN}"
        return not_estimable(why, unit=unit, n=events, n_of="events")
    quota = permit.quota if permit is not None else None
    allowed = (
        f"of {_plain(quota)} allowed under permit {key}"
        if quota is not None
        else f"under permit {key}, for which no quota is entered"
    )
    last = max((u.last_on for u in told if u.last_on is not None), default=None)
    note = f"recorded {'at least ' if untold else ''}{_plain(amount)} {unit} {allowed}"
    note += f", the last on {last}; {UNKNOWN}" if last else f"; {UNKNOWN}"
    note += f"; the permit holds from {permit.valid_from} to {permit.valid_to}" if permit is not None else ""
    note += f"; report due on {permit.report_due}" if permit is not None and permit.report_due is not None else ""
    sure = None if untold else float(amount)
    return Estimate(
        "bounded" if untold else "estimated", unit, events, "events", "sum of what is recorded", sure,
        value_from=float(amount) if untold else None, note=note,
    )  # fmt: skip


def share_of_quota(of: Estimate, quota: Decimal) -> Estimate:
    """The same as a share of the quota, in per cent."""
    if of.state == "not estimable":
        return not_estimable(of.note, unit="%", n=of.n, n_of=of.n_of)
    if quota == 0:
        return not_estimable(f"the permit allows none; {of.note}", unit="%", n=of.n, n_of=of.n_of)
    value, least = (None if v is None else 100 * v / float(quota) for v in (of.value, of.value_from))
    return Estimate(of.state, "%", of.n, of.n_of, "recorded over quota", value, value_from=least, note=of.note)


def _cautions(told: Sequence[Used], permit: Permit | None, passed: dt.date | None, tissue: int) -> Sequence[str]:
    fitting = [u for u in told if not u.other_activity]
    strange = [f"{u.events} {EVENTS[u.kind]}" for u in told if u.other_activity and u.events]
    waiting, untold = sum(u.waiting for u in told), sum(u.untold for u in fitting)
    late, species = sum(u.out_of_dates for u in fitting), sum(u.other_species for u in fitting) + tissue
    partners = max((u.partners for u in fitting), default=0)
    return (
        "this permit is not registered: what it allows is not known" if permit is None else "",
        f"events dated before or after the days it holds: {late}" if late else "",
        f"events of another species than it names: {species}" if species else "",
        f"name it, though it allows something else, and are not counted: {', '.join(strange)}" if strange else "",
        f"the quota is passed by what is recorded, counted by day since {passed}" if passed else "",
        f"events that wait and are left out: {waiting}" if waiting else "",
        f"events that do not say how much: {untold}" if untold else "",
        f"its status is “{permit.status}”" if permit is not None and permit.status not in (None, "in force") else "",
        f"partners that used it: {partners}" if partners > 1 else "",
    )


def _plain(amount: Decimal) -> str:
    return f"{amount.normalize():f}"
