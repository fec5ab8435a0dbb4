"""Retention of tagged units at the programme's days, at each site and over all sites that a method was put down at."""

from collections.abc import Iterable, Sequence
from functools import partial

from pipeline.indicators.estimate import Estimate, not_estimable
from pipeline.indicators.figure import Figure
from pipeline.indicators.half_gone import half_gone
from pipeline.indicators.remember import Memory
from pipeline.indicators.retention import UNIT, UNITS, if_not_found, retention_over_sites, site_retention
from pipeline.indicators.story import Lives, Story, over_sites
from pipeline.indicators.weibull import weibull_over_sites


def attached(
    told: Iterable[Story], days: Sequence[int], memory: Memory, name: str = "unit retention", over: str = ""
) -> list[Figure]:
    """Retention at each of the programme's days. name: the indicator of one site; over: that of all sites."""
    figures = []
    for story in told:
        over_all = story.site == "all"
        called = (over or f"{name} over sites") if over_all else name
        for day in days:
            estimate = (_over_sites if over_all else _site)(story, called, day, memory)
            figures.append(Figure(called, story.scope(day), estimate.with_cautions(*story.cautions)))
    return figures


def _site(story: Story, name: str, day: int, memory: Memory) -> Estimate:
    [found], unfound = story.intervals().values(), story.unfound(day).get(story.site, [])
    if not found:
        return _no_story(story)
    return memory.recall(name, story.scope(day), [found, day, unfound], lambda: site_retention(found, day, unfound))


def _over_sites(story: Story, name: str, day: int, memory: Memory) -> Estimate:
    found, unfound = story.intervals(), story.unfound(day)
    estimate = memory.recall(
        name, story.scope(day), [found, unfound, day], lambda: retention_over_sites(found, day, unfound)
    )
    never = [s for s in unfound if all((left, right) == (0, float("inf")) for left, right, _ in found[s])]
    lost = [s for s in unfound if s not in never]
    return estimate.with_cautions(
        "never looked at again: " + ", ".join(never) if never else "",
        "not found again after an earlier look: " + ", ".join(lost) if lost else "",
    )


def smooth(told: Iterable[Story], days: Sequence[int], memory: Memory) -> list[Figure]:
    """Retention over sites by Weibull's curve at each of the programme's days."""
    name, figures = "unit retention, Weibull", []
    for story in over_sites(told):
        found = story.intervals()
        for day in days:
            estimate = memory.recall(name, story.scope(day), [found, day], partial(weibull_over_sites, found, day))
            figures.append(Figure(name, story.scope(day), estimate.with_cautions(*story.cautions)))
    return figures


def doubted(told: Iterable[Story], days: Sequence[int], memory: Memory) -> list[Figure]:
    """Retention if units absent at a single, last look were only missed, where there are such; over all sites."""
    figures: list[Figure] = []
    for story in over_sites(told):
        if not any(r.once and not r.unresolved for r in story.rows):
            continue
        kept = {site: [part for r in rows for part in _kept(r)] for site, rows in story.sites.items()}
        figures += attached(
            [story._replace(sites=kept)], days, memory, over="unit retention if last absences were misses"
        )
    return figures


def _kept(r: Lives) -> list[Lives]:
    """The same units, those whose going rests on one look taken as still there."""
    parts = [r._replace(units=r.units - r.once, once=0), r._replace(units=r.once, right=None, once=0)]
    return [p for p in parts if p.units]


def not_found(told: Iterable[Story], days: Sequence[int], memory: Memory) -> list[Figure]:
    """Between which bounds retention lies if units of sites that were not found again all went, or all stayed."""
    name, figures = "unit retention if not found", []
    for story in told:
        found = story.intervals()
        for day in days:
            if not (unfound := story.unfound(day)):
                continue
            estimate = memory.recall(
                name, story.scope(day), [found, unfound, day],
                partial(if_not_found, found, day, unfound),
            )  # fmt: skip
            figures.append(Figure(name, story.scope(day), estimate.with_cautions(*story.cautions)))
    return figures


def half(told: Iterable[Story], memory: Memory) -> list[Figure]:
    """The day by which half of the units are gone, at each site and over all sites."""
    name, figures = "day half are gone", []
    for story in told:
        found = [i for rows in story.intervals().values() for i in rows]
        estimate = memory.recall(name, story.scope(), [sorted(found)], partial(half_gone, found))
        figures.append(Figure(name, story.scope(), estimate.with_cautions(*story.cautions)))
    return figures


def _no_story(story: Story) -> Estimate:
    units = sum(r.units for r in story.rows)
    return not_estimable("no unit's story holds together", unit=UNIT, n=units, n_of=UNITS)
