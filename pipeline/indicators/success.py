"""The programme's own rules of success, each held against the interval of the figure that it speaks of.

A verdict keeps the figure's value and interval, so that both can be read together; its note begins with the verdict:
met, not met or cannot tell. Nothing else is ever called success.
"""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from decimal import Decimal

from pipeline.indicators.density import UNDECIDED
from pipeline.indicators.estimate import Estimate, not_estimable
from pipeline.indicators.figure import Figure, Scope, scope
from pipeline.rules.recruitment import SuccessRule

NAME = "success rule"
MET, NOT_MET, CANNOT_TELL = "met", "not met", "cannot tell"


def verdicts(
    figures: Sequence[Figure], rules: Iterable[SuccessRule], first_down: Mapping[str, dt.date]
) -> list[Figure]:
    """One figure a rule, site and survey that falls into the rule's days; where none does, one that says so.

    figures: those of single sites, made already. first_down: the day each site was first planted.
    """
    made = []
    for rule in rules:
        of_site: dict[str, list[tuple[dt.date, Figure]]] = defaultdict(list)
        for f in figures:
            if _speaks_of(rule, f) and f.of("site") in first_down:
                of_site[f.of("site")].append((dt.date.fromisoformat(f.of("survey")), f))
        for site, told in sorted(of_site.items()):
            days = {day: (day - first_down[site]).days for day, _ in told}
            judged = [(day, f) for day, f in told if _within(rule, days[day])]
            for _, f in judged:
                afterwards = _afterwards(rule, min(day for day, _ in judged))
                made.append(Figure(NAME, _scope(f, rule), _judged(rule, f.estimate).with_cautions(afterwards)))
            last, f = max(told, key=lambda pair: (pair[0], pair[1].scope))
            if not judged and days[last] >= 0:
                made.append(Figure(NAME, _scope(f, rule), _not_yet(rule, f.estimate, last, days[last])))
    return made


def _speaks_of(rule: SuccessRule, f: Figure) -> bool:
    return (
        f.indicator == rule.indicator
        and (f.of("species"), f.of("stage")) == (rule.species, rule.stage)
        and f.of("plot_kind") in ("", "treated")
        and rule.protocol in ("", f.of("protocol"))
    )


def _within(rule: SuccessRule, day: int) -> bool:
    return rule.from_day <= day and (rule.to_day is None or day <= rule.to_day)


def _scope(f: Figure, rule: SuccessRule) -> Scope:
    return scope(**dict(f.scope), rule=rule.key)


def _afterwards(rule: SuccessRule, first: dt.date) -> str:
    if rule.dated <= first:
        return ""
    return f"written afterwards: the rule is dated {rule.dated}, the first survey it judges here was from {first}"


def _not_yet(rule: SuccessRule, of: Estimate, last: dt.date, day: int) -> Estimate:
    window = f"from day {rule.from_day} on" if rule.to_day is None else f"from day {rule.from_day} to day {rule.to_day}"
    why = f"{CANNOT_TELL}: the rule judges surveys {window}; the last one here, from {last}, was on day {day}"
    return not_estimable(why, unit=of.unit, n=of.n, n_of=of.n_of)


def _judged(rule: SuccessRule, e: Estimate) -> Estimate:
    """The figure's estimate with the verdict as its note."""
    unsure = [c for c in e.cautions if c.startswith("too early") or UNDECIDED in c]
    if e.state == "not estimable" or e.low is None or e.high is None:
        return replace(e, note=f"{CANNOT_TELL}: {e.note or 'there is no interval'}")
    if unsure:
        return replace(e, note=f"{CANNOT_TELL}: {unsure[0]}")
    if rule.at_least is not None:
        limit, wanted = rule.at_least, "at least"
        verdict = MET if e.low >= limit else NOT_MET if e.high < limit else CANNOT_TELL
    else:
        limit, wanted = rule.at_most or Decimal(0), "at most"
        verdict = MET if e.high <= limit else NOT_MET if e.low > limit else CANNOT_TELL
    lies = "reaches across it" if verdict == CANNOT_TELL else "lies wholly on one side of it"
    told = (
        f"{verdict}: the rule wants {wanted} {limit.normalize():f} {e.unit} from day {rule.from_day} on; "
        f"the interval {lies}"
    )
    return replace(e, note="; ".join(filter(None, [told, e.note])))
