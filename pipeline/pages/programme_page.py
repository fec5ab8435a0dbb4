"""The first page: four answers in short, then a row a site: kelp, units, price, what is due, what is uncertain; then the rest.

Six sites fit one screen of a laptop (1366 x 768); what stands beside the answers comes below, in a table of its own.
"""

import datetime as dt
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from typing import Any

from pipeline.indicators.figure import Figure
from pipeline.pages.answers import Came, Held, bands, beside, by_rule, came, comparison, fixing, held, price
from pipeline.pages.charts import Shown, intervals, reach, shown, strip
from pipeline.pages.curve import retention
from pipeline.pages.plan import Spot, plan
from pipeline.pages.shell import Shell
from pipeline.pages.short import (
    Statement,
    best_fixing,
    by_the_rules,
    last_season,
    least_held,
    listed,
    next_work,
    open_at,
    over_seasons,
    recruits,
    recruits_in_short,
)
from pipeline.pages.told import Due, Place, Site
from pipeline.pages.words import Words

SITES_A_PAGE = 100
DUE_SHOWN = 14
DUE_A_SITE = 3
OPEN_A_SITE = 110  # letters of what is uncertain that leave a row as high as its picture
ALLOWED = "Due when conditions and your supervisor allow."
FORMS = ("cash", "in kind", "hours")


def programme_pages(shell: Shell) -> Iterator[tuple[str, bytes]]:
    """index.html, and sites-2.html and so on where there are many sites."""
    told, words = shell.told, shell.words
    answered = {s.key: came(told, s.key, words) for s in told.sites}
    lines = [line for c in answered.values() if c for line in c.lines(words)]
    span = reach(lines)
    cut = any(v is not None and not span[0] <= v <= span[1] for line in lines for v in (line.low, line.high))
    last = _last_day(told.sites)
    sheets = [told.sites[i : i + SITES_A_PAGE] for i in range(0, len(told.sites), SITES_A_PAGE)] or [[]]
    names = ["index.html", *(f"sites-{n}.html" for n in range(2, len(sheets) + 1))]
    for n, (name, sites) in enumerate(zip(names, sheets, strict=True)):
        rows = [_line(shell, s, answered[s.key], span, last) for s in sites]
        more: dict[str, Any] = _more(shell, answered) if n == 0 else {}
        yield (
            name,
            shell.page("programme.html", name, rows=rows, sheets=list(enumerate(names, 1)), nth=n + 1, more=more, species=told.species, cut=cut),
        )  # fmt: skip


def _last_day(sites: Sequence[Site]) -> float:
    ends = [q for s in sites for c in s.curves for q in c.q[-1:]]
    ends += [p for s in sites for c in s.curves for p in c.p if p != float("inf")]
    return max(ends, default=1.0)


def _line(shell: Shell, site: Site, answer: Came | None, span: tuple[float, float], last: float) -> dict[str, Any]:
    told, words = shell.told, shell.words
    stays = held(told, site, site.key)
    title = words("Recruits at {site}, per m²", site=site.name)
    return {
        "site": site,
        "page": shell.site_page(site.key),
        "came": answer,
        "survey": dt.date.fromisoformat(answer.survey) if answer else None,
        "lines": _lines(answer, words) if answer else [],
        "strip": strip(title, answer.lines(words), span, words, "per m²") if answer else "",
        "held": stays,
        "curve": small_curve(shell, site.name, stays, last),
        "price": price(told, site.key),
        "due": _due_at(told.due_at.get(site.key, [])),
        "open": (unsure := open_at(site, answer, words)),
        "named": 2 if len("".join(unsure[:2])) < OPEN_A_SITE else 1,
        "verdicts": answer.verdicts if answer else (),
        "beside": beside(told, site, words),
    }


def _due_at(due: Sequence[Due]) -> list[tuple[str, list[Due], int]]:
    """What is due at a site in three parts, of each the first few and how many more there are."""
    mine = [(when, [d for d in due if d.when == when]) for when in ("overdue", "soon", "later")]
    return [(when, these[:DUE_A_SITE], max(0, len(these) - DUE_A_SITE)) for when, these in mine if these]


def _lines(answer: Came, words: Words) -> list[tuple[str, str, Figure]]:
    """The lines of a site's picture in its order: which mark, its name, its figure."""
    told = [(kind, words(kind), f) for kind, f in answer.densities]
    if answer.elsewhere is not None:
        told.append(("reference", words("reference {site}", site=answer.elsewhere.of("site")), answer.elsewhere))
    if answer.difference is not None:
        told.append(("difference", words("difference"), answer.difference))
    return told


def small_curve(shell: Shell, name: str, stays: Held, last: float) -> str:
    """The curve without words, "" where nothing is known."""
    if stays.curve is None:
        return ""
    title = shell.words("Share of units in place at {site}", site=name)
    return retention(title, stays.curve, bands(stays.figures), shell.words, last, small=True)


def _more(shell: Shell, answered: dict[str, Came | None]) -> dict[str, Any]:
    told = shell.told
    every, due = told.by_site.get("all", []), _due(shell)
    return {
        "short": _short(shell, answered, every),
        "due": [(heading, these[:DUE_SHOWN]) for heading, these in due],
        "due_more": sum(max(0, len(these) - DUE_SHOWN) for _, these in due),
        "rules": by_rule(told, (s.key for s in told.sites), shell.words) if len(told.sites) <= SITES_A_PAGE else [],
        "uncertain": _uncertain(shell, answered),
        "fixings": _by_fixing(shell, every),
        "methods": _methods(every),
        "told_apart": [f for f in every if f.indicator == "fixings told apart"],
        "costs": {what: _costs(every, what) for what in ("category", "phase")},
        "over_sites": _over_sites(shell, every),
        "partners": _partners(shell, every),
        "plan": _plan(shell),
    }  # fmt: skip


def _short(
    shell: Shell, answered: dict[str, Came | None], every: Sequence[Figure]
) -> list[tuple[str, list[Statement]]]:
    """Questions with their sentences: did kelp come, which fixing holds, where it failed, what to do next."""
    told, _ = shell.told, shell.words
    answers = {key: c for key, c in answered.items() if c is not None}
    methods = sorted({f.of("method") for f in every if f.indicator == "unit retention by fixing"})
    kelp = [recruits_in_short(answers, _) if answers else recruits(told, answers, _), last_season(told, _)]
    found: list[tuple[str, list[Statement | None]]] = [
        (_("Did kelp come?"), kelp),
        (_("Which fixing holds best?"), [best_fixing(every, m, _) for m in methods]),
        (_("Where did it fail?"), [by_the_rules(told, _), least_held(told, _)]),
    ]
    made = [(question, [s for s in said if s is not None]) for question, said in found]
    if not shell.public:
        work = next_work(told, _)
        text = (_("; ").join(work) + ".") if work else _("Nothing is planned.")
        said = [Statement(text[:1].upper() + text[1:])]
        made.append((_("What to do next?"), said + [Statement(_(ALLOWED))] * bool(work)))
    return [(question, said) for question, said in made if said]


def _due(shell: Shell) -> list[tuple[str, list[Due]]]:
    """What is due in three parts, as of the night's day."""
    _ = shell.words
    headings = {
        "overdue": _("Overdue on {day}", day=_.day(shell.told.today)),
        "soon": _("Now and in the month to come"),
        "later": _("Later"),
    }
    return [(heading, [d for d in shell.told.due if d.when == when]) for when, heading in headings.items()]


def _over_sites(shell: Shell, every: Sequence[Figure]) -> dict[str, Any]:
    """Recruits beyond control over all sites, season by season; the densities stand in the table behind."""
    told, _ = shell.told, shell.words
    differences = over_seasons(told)
    if not differences:
        return {}
    lines = [
        shown(
            "difference",
            _("season from {season}, sites: {n}", season=_.when(f.of("season")), n=f.estimate.n),
            f.estimate,
        )
        for f in differences
    ]
    last = differences[-1]
    said, why = comparison(last, _)
    text = _("Recruits per m² beyond control, mean of sites, in the last season: {said}", said=said) + (
        f" ({why})." if why else "."
    )
    density = (
        f for f in every
        if f.indicator == "density over sites" and f.of("species") == told.species and f.of("stage") == "recruit"
        and f.estimate.state == "estimated"
    )  # fmt: skip
    figures = differences + sorted(density, key=lambda f: (f.of("season"), f.of("plot_kind")))
    title = _("Treated minus control over sites, recruits per m²")
    return {
        "title": title,
        "chart": intervals(title, lines, _, "per m²"),
        "figures": figures,
        "said": text,
    }


def losses(site: Site, words: Words) -> str:
    """What took units, as their partners told it: causes with how often, "" where no loss is told of."""
    return ", ".join(f"{words(cause)} {n}" for cause, n in site.losses)


def _uncertain(shell: Shell, answered: dict[str, Came | None]) -> list[str]:
    """What nobody knows, in sentences, the widest first."""
    told, _ = shell.told, shell.words
    found = []
    if told.held:
        found.append(_("Rows that are held and count in no figure until their partner answers: {n}.", n=told.held))
    if told.waiting:
        found.append(_("Things told in two ways, which wait for a ruling: {n}.", n=told.waiting))
    lost = [s for s in told.sites if s.not_found_since]
    found += [_("{site} was searched for and not found since {day}; what is there now nobody knows.", site=s.name,
                day=_.day(s.not_found_since)) for s in lost]  # fmt: skip
    never = [s.name for s in told.sites if answered[s.key] is None]
    if never:
        found.append(_("No recruits were ever looked for in treated plots of {sites}.", sites=listed(never)))
    open_ones = [s.name for s in told.sites if (c := answered[s.key]) and c.difference and c.said == _("cannot tell")]
    if open_ones:
        found.append(
            _("Whether more recruits came than without planting cannot be told at {sites}: the intervals hold 0, or the comparison was refused.",
              sites=listed(open_ones))
        )  # fmt: skip
    if any(price(told, s.key).trial for s in told.sites):
        found.append(
            _("Every price per hectare comes from less than {area} m² of trials: it says what was paid here, not what a hectare would cost.",
              area=_.number(told.trial_below_m2))
        )  # fmt: skip
    times = Counter(
        c
        for f in told.figures
        for c in f.estimate.cautions
        if f.of("site") not in ("", "all") and "units whose tissue" in c
    )
    if times:
        found.append(
            _(
                "At some sites tissue was warm or long on its way, or nobody wrote how it was kept: see each site's cautions."
            )
        )
    return found


def _by_fixing(shell: Shell, every: Sequence[Figure]) -> list[dict[str, Any]]:
    """For each method and day, how the fixings compare: a chart and its figures."""
    words, found = shell.words, []
    mine = [f for f in every if f.indicator == "unit retention by fixing"]
    for method in sorted({f.of("method") for f in mine}):
        of_method = [f for f in mine if f.of("method") == method]
        days = sorted({int(f.of("day")) for f in of_method})
        ordered = sorted(of_method, key=lambda f: (int(f.of("day")), f.of("fixing")))
        lines: list[Shown] = [
            shown("treated", words("day {day}, {fixing}", day=f.of("day"), fixing=fixing(f.of("fixing"), words)), f.estimate) for f in ordered
        ]  # fmt: skip
        title = words("Share of units in place by fixing: {method}", method=words(method))
        found.append(
            {"method": method, "said": best_fixing(every, method, words), "days": days, "title": title, "figures": ordered,
             "chart": intervals(title, lines, words, "fraction", (0, 1))}
        )  # fmt: skip
    return found


def _methods(every: Sequence[Figure]) -> list[dict[str, Any]]:
    """A row a method: what of its units stayed, what one cost, what one that held cost."""
    names = sorted({f.of("method") for f in every if f.of("method")})
    return [
        {
            "method": m,
            "held": sorted((f for f in every if f.indicator == "unit retention over sites" and f.of("method") == m), key=lambda f: int(f.of("day"))),
            "lots": [],
            "per_unit": next((f for f in every if f.indicator == "cash per unit" and f.of("method") == m), None),
            "per_held": next((f for f in every if f.indicator == "cash per retained unit" and f.of("method") == m), None),
            "gear": next((f for f in every if f.indicator == "gear not accounted for" and f.of("method") == m), None),
        }
        for m in names
    ]  # fmt: skip


def _costs(every: Sequence[Figure], what: str) -> list[tuple[str, list[Figure | None]]]:
    """A row a category or phase: cash, gifts in kind, hours; in order of cash, then by name."""
    found = {(f.of(what), f.indicator): f for f in every if f.of(what) and f.indicator.endswith(" in all")}
    names = {n for n, _ in found}

    def paid(name: str) -> float:
        f = found.get((name, "cash in all"))
        return f.estimate.value or 0.0 if f else 0.0

    order = sorted(names, key=lambda n: (n.startswith("all but"), -paid(n), n))
    return [(name, [found.get((name, f"{form} in all")) for form in FORMS]) for name in order]


def _partners(shell: Shell, every: Sequence[Figure]) -> list[dict[str, Any]]:
    """What each partner brought, in the order of the alphabet: nobody is ranked."""
    given = {(f.of("partner"), f.indicator): f for f in every if f.of("partner")}
    return [
        {"partner": p, "rows": dict(p.rows), "given": [given.get((p.name, f"{form} in all")) for form in FORMS]}
        for p in shell.told.partners
    ]  # fmt: skip


def spots(places: Iterable[tuple[str, float, Place | None]]) -> list[Spot]:
    """What stands on the map of sites. places: key, reach in metres and place of each."""
    return [
        Spot(key, at, "treated", max(reach, at.uncertainty_m or 0.0)) for key, reach, at in places if at is not None
    ]


def _plan(shell: Shell) -> str:
    words = shell.words
    found = spots((s.key, s.radius_m, s.place) for s in shell.told.sites)
    if not found:
        return ""
    return plan(words("Where the sites lie"), found, words, named=len(found) <= 60, land=shell.told.land or [])
