"""A site's page: the three answers, what happened when, units with fixing and state, frames behind means, cautions."""

import datetime as dt
from collections import Counter
from collections.abc import Sequence
from typing import Any

from pipeline.indicators.figure import Figure
from pipeline.pages.answers import KINDS, Came, bands, came, held, newest, price
from pipeline.pages.charts import Shown, dots, intervals, over_time, shown, warm_days
from pipeline.pages.curve import retention
from pipeline.pages.plan import Spot, plan, way
from pipeline.pages.programme_page import losses
from pipeline.pages.shell import Shell, in_order
from pipeline.pages.told import Site, Unit

STAGES = ("recruit", "juvenile", "sub-canopy", "canopy", "any")
CAUTIONS = 40


def site_page(shell: Shell, site: Site) -> bytes:
    """The page's bytes."""
    told, words = shell.told, shell.words
    mine = told.by_site.get(site.key, [])
    answer, stays = came(told, site.key, words), held(told, site, site.key)
    path = shell.site_page(site.key)
    return shell.page(
        "site.html", path, site=site, came=answer, came_chart=_came_chart(shell, site, answer), held=stays,
        price=price(told, site.key), curves=_curves(shell, site, mine), stages=_stages(shell, site, mine),
        rounds=_rounds(shell, site, mine), warmth=_warmth(shell, site), plan=_plan(shell, site),
        cautions=_cautions(mine), topics=_topics(shell, mine), due=[d for d in told.due if d.site == site.key],
        states=_states(site), units=sorted(site.units, key=lambda u: u.key),
        lots=_newest_lots(mine), money=_money(mine), losses=losses(site, words), off_plan=[u.key for u in site.units if _beyond(site, u)],
    )  # fmt: skip


def _came_chart(shell: Shell, site: Site, answer: Came | None) -> str:
    if answer is None:
        return ""
    title = shell.words(
        "Recruits per m² at {site}, round from {day}", site=site.name, day=shell.words.when(answer.survey)
    )
    return intervals(title, answer.lines(shell.words), shell.words, "per m²")


def _curves(shell: Shell, site: Site, mine: Sequence[Figure]) -> list[dict[str, Any]]:
    words, found = shell.words, []
    for c in site.curves:
        figures = sorted(
            (f for f in mine if f.indicator == "unit retention" and f.of("method") == c.method),
            key=lambda f: int(f.of("day")),
        )
        last = max([*(q for q in c.q), *(p for p in c.p if p != float("inf")), *(shell.told.retention_days or (1,))])
        title = words("Share of {method} units in place at {site}", method=words(c.method), site=site.name)
        chart = retention(title, c, bands(figures), words, last)
        found.append({"curve": c, "chart": chart, "figures": figures})
    return found


def _stages(shell: Shell, site: Site, mine: Sequence[Figure]) -> list[dict[str, Any]]:
    """For each species and stage the frames of the last round behind their means."""
    words, found = shell.words, []
    density = [f for f in mine if f.indicator == "density"]
    for species in sorted({f.of("species") for f in density}, key=lambda s: (s != shell.told.species, s)):
        for stage in STAGES:
            last = newest(f for f in density if f.of("species") == species and f.of("stage") == stage)
            if last is None:
                continue
            figures, groups = [], []
            for kind in KINDS:
                f = next(
                    (g for g in density if g.of("species") == species and g.of("stage") == stage and g.of("plot_kind") == kind
                     and g.of("survey") == last.of("survey") and g.of("protocol") == last.of("protocol")), None,
                )  # fmt: skip
                if f is None:
                    continue
                figures.append(f)
                frames = [
                    c.count / c.area_m2 for c in site.frames
                    if c.round_on.isoformat() == f.of("survey") and c.plot_kind == kind and c.species == species
                    and c.stage == stage and c.protocol == f.of("protocol") and not c.near_units and c.area_m2
                ]  # fmt: skip
                groups.append(
                    (shown(kind, words("{kind}, frames: {n}", kind=words(kind), n=len(frames)), f.estimate), frames)
                )
            title = words("{stage} of {species} at {site}", stage=words(stage), species=species, site=site.name)
            text = words("; ").join(
                words("{kind}: mean {mean} per m², frames: {n}", kind=words(g.name), mean="–" if g.value is None else words.number(g.value),
                      n=len(frames))
                for g, frames in groups
            )  # fmt: skip
            found.append(
                {"species": species, "stage": stage, "survey": last.of("survey"), "figures": figures,
                 "chart": dots(title, groups, words, "per m²", text)}
            )  # fmt: skip
    return found


def _rounds(shell: Shell, site: Site, mine: Sequence[Figure]) -> dict[str, Any] | None:
    """Recruits of the species shown, round after round."""
    words = shell.words
    rounds: dict[str, list[tuple[dt.date, Shown]]] = {k: [] for k in KINDS}
    figures = []
    for f in mine:
        if f.indicator == "density" and f.of("stage") == "recruit" and f.of("species") == shell.told.species:
            kind = f.of("plot_kind")
            if kind in rounds:
                rounds[kind].append((dt.date.fromisoformat(f.of("survey")), shown(kind, words(kind), f.estimate)))
                figures.append(f)
    if not figures:
        return None
    down = sorted({u.down_on for u in site.units}) or sorted({h.day for h in site.happenings if h.what == "put down"})
    for told in rounds.values():
        told.sort(key=lambda t: t[0])
    title = words("Recruits per m² at {site}, round after round", site=site.name)
    figures.sort(key=lambda f: (f.of("survey"), KINDS.index(f.of("plot_kind"))))
    return {"chart": over_time(title, rounds, words, "per m²", down), "figures": figures}


def _warmth(shell: Shell, site: Site) -> str:
    if not site.warmth:
        return ""
    days: dict[str, list[tuple[dt.date, float]]] = {}
    for w in site.warmth:
        days.setdefault(w.logger, []).append((w.day, w.mean))
    return warm_days(shell.words("Daily mean temperature at {site}", site=site.name), days, shell.words)


def _plan(shell: Shell, site: Site) -> str:
    words = shell.words
    spots = [
        Spot(u.key, u.place, _sort(u), u.place.uncertainty_m or 0.0)
        for u in site.units if u.place and not _beyond(site, u)
    ]  # fmt: skip
    if not spots:
        return ""
    if site.place:
        spots.append(Spot(words("mark of the site"), site.place, "difference"))
    return plan(words("Units at {site}, as they were put down", site=site.name), spots, words, named=len(spots) <= 25)


def _beyond(site: Site, unit: Unit) -> bool:
    """Whether a unit is told to lie so far off that its site would be a dot beside it: more than twice its reach."""
    if site.place is None or unit.place is None:
        return False
    return way(site.place, unit.place)[1] > 2 * site.radius_m + (unit.place.uncertainty_m or 0.0)


def _sort(unit: Unit) -> str:
    """A unit's mark: full where it was there when last seen, open where it is gone or home, a diamond where nobody knows."""
    if not unit.may_be_there:
        return "control"
    return "reference" if unit.last_state in ("", "absent") else "treated"


def _states(site: Site) -> list[tuple[str, str, Counter[str]]]:
    """A row a method and fixing: how many units were last seen how."""
    found: dict[tuple[str, str], Counter[str]] = {}
    for u in site.units:
        if u.pieces == 1:
            found.setdefault((u.method, u.fixing), Counter())[u.last_state or "not looked for again"] += 1
    return [(m, f, c) for (m, f), c in sorted(found.items())]


def _cautions(mine: Sequence[Figure]) -> list[tuple[str, int]]:
    """Every caution beside a figure of the site, the one beside most figures first."""
    times = Counter(c for f in mine for c in f.estimate.cautions)
    return sorted(times.items(), key=lambda t: (-t[1], t[0]))[:CAUTIONS]


def _topics(shell: Shell, mine: Sequence[Figure]) -> list[tuple[str, list[tuple[str, int]]]]:
    """Where every figure of the site is told in full: topic, then its pages with how many figures each."""
    pages: dict[str, Counter[str]] = {}
    for f in in_order(mine):
        pages.setdefault(shell.told.topics.get(f.indicator, ""), Counter())[shell.figures_page(f)] += 1
    return [(topic, sorted(count.items())) for topic, count in sorted(pages.items())]


def _newest_lots(mine: Sequence[Figure]) -> list[Figure]:
    last: dict[str, Figure] = {}
    for f in mine:
        if f.indicator == "pieces found of lots":
            key = f.of("method") + f.of("cohort")
            last[key] = max(
                last.get(key, f), f, key=lambda g: (g.of("survey") or g.of("event") or "", int(g.of("day") or 0))
            )
    return sorted(last.values(), key=lambda f: f.scope)


def _money(mine: Sequence[Figure]) -> list[Figure]:
    wanted = ("in all", "per hectare", "per recruit", "per unit", "per retained unit")
    return [
        f
        for f in in_order(mine)
        if f.indicator.startswith(("cash", "in kind", "hours")) and f.indicator.endswith(wanted)
    ]
