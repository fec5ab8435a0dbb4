"""The first page in short: four questions a stranger asks, each with a sentence made of figures and no surer than they are.

Nothing here ranks what its intervals cannot tell apart: where they meet, the sentence says “cannot tell yet”.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from pipeline.indicators.estimate import Estimate
from pipeline.indicators.figure import Figure
from pipeline.pages.answers import Came, fixing, verdicts
from pipeline.pages.told import Site, Told
from pipeline.pages.words import Words

NAMED = 12  # sites that a sentence names before it counts the others
CANNOT = "cannot tell: "  # how the note begins of a figure that tells nothing apart


@dataclass(frozen=True)
class Statement:
    """A sentence and the figures it rests on."""

    text: str
    figures: Sequence[Figure] = ()


def listed(names: Sequence[str], most: int = NAMED) -> str:
    """Names in a row, the first so many of them."""
    return ", ".join(names[:most]) + (f" … (+{len(names) - most})" if len(names) > most else "")


def _some(keys: Sequence[str], none: str) -> str:
    return f"{len(keys)} ({', '.join(keys)})" if 0 < len(keys) <= NAMED else str(len(keys)) if keys else none


def recruits(told: Told, answers: Mapping[str, Came], words: Words) -> Statement:
    """At which sites more recruits stood in treated plots than in control plots, at which fewer, at which nobody can tell."""
    _ = words
    if not answers:
        return Statement(_("Whether kelp came cannot be told: no recruits were looked for in treated plots yet."))
    by: dict[str, list[str]] = {}
    for key, c in answers.items():
        by.setdefault(c.said, []).append(key)
    more, less, open_ones = (by.get(_(t), []) for t in ("more than in control", "less than in control", "cannot tell"))
    text = _("In the last survey of each site ({n} in all), more recruits of {species} stood in treated plots than in control plots at {more}; fewer at {less}; at {open} it cannot be told.",
             n=len(answers), species=told.species, more=_some(more, _("none")), less=_some(less, _("none")), open=_some(open_ones, _("none")))  # fmt: skip
    return Statement(text, [c.difference for c in answers.values() if c.difference])


def recruits_in_short(answers: Mapping[str, Came], words: Words) -> Statement:
    """The same in fewer words, for a screen that shows the species elsewhere."""
    _ = words
    by: dict[str, list[str]] = {}
    for key, c in answers.items():
        by.setdefault(c.said, []).append(key)
    sentences = {
        "more than in control": _("More recruits in treated than in control plots: {sites}."),
        "less than in control": _("Fewer recruits in treated than in control plots: {sites}."),
        "cannot tell": _("Cannot tell yet whether more recruits stand in treated than in control plots: {sites}."),
    }
    text = " ".join(told.format(sites=_some(by[_(t)], "")) for t, told in sentences.items() if _(t) in by)
    return Statement(text, [c.difference for c in answers.values() if c.difference])


def over_seasons(told: Told) -> list[Figure]:
    """Recruits beyond control over sites, of the species shown, season by season."""
    found = (
        f for f in told.by_site.get("all", [])
        if f.indicator == "treated minus control over sites" and f.of("species") == told.species
        and f.of("stage") == "recruit" and f.estimate.state == "estimated"
    )  # fmt: skip
    return sorted(found, key=lambda f: (f.of("season"), f.id))


def last_season(told: Told, words: Words) -> Statement | None:
    """The mean difference over sites in the last season that has one."""
    _, found = words, over_seasons(told)
    if not found:
        return None
    f, e = found[-1], found[-1].estimate
    text = _("Over {n} sites the mean difference in the season from {season} was {value} recruits per m² (95 % interval {interval}).",
             n=e.n, season=_.when(f.of("season")), value=_.value(e), interval=_.between(e) or "–")  # fmt: skip
    holds = e.low is None or e.high is None or e.low <= 0 <= e.high
    return Statement(text + (" " + _("The interval holds 0: cannot tell yet.") if holds else ""), [f])


def _middle(e: Estimate) -> float:
    if e.value is not None:
        return e.value
    return ((e.value_from or 0.0) + (e.value_to or 0.0)) / 2


def _with_interval(e: Estimate, words: Words) -> str:
    return f"{words.value(e)} ({words.between(e)})"


def best_fixing(every: Sequence[Figure], method: str, words: Words) -> Statement | None:
    """Which fixing holds best by the last day of which two can tell, and whether that is certain. None where fewer can.

    Intervals that lie apart are no proof where the figure “fixings told apart” is refused or cannot tell: they may tell
    sites apart, not fixings. Its reason then stands in place of them.
    """
    _ = words
    mine = [
        f for f in every
        if f.indicator == "unit retention by fixing" and f.of("method") == method
        and f.estimate.low is not None and f.estimate.high is not None
    ]  # fmt: skip
    days = sorted({int(f.of("day")) for f in mine if sum(g.of("day") == f.of("day") for g in mine) > 1})
    if not days:
        return None
    found = sorted(
        (f for f in mine if f.of("day") == str(days[-1])), key=lambda f: (-_middle(f.estimate), f.of("fixing"))
    )
    best, others = found[0], found[1:]

    def told(figures: Iterable[Figure]) -> str:
        return ", ".join(f"{fixing(f.of('fixing'), _)} {_with_interval(f.estimate, _)}" for f in figures)

    parts = [
        _("Of {method}, by day {day}, most stayed with {best}.", day=days[-1], best=told([best]), method=_(method))
    ]  # fmt: skip
    test = next((f for f in every if f.indicator == "fixings told apart" and f.of("method") == method), None)
    doubt = _doubt(test.estimate) if test else ""
    if test and doubt:
        parts.append(
            _("Cannot tell yet whether it holds better than {others}: {why}.", others=told(others), why=_.again(doubt))
        )
        return Statement(" ".join(parts), [*found, test])
    below = [f for f in others if (f.estimate.high or 0.0) < (best.estimate.low or 0.0)]
    meets = [f for f in others if f not in below]
    if meets:
        parts.append(
            _("Cannot tell yet whether it holds better than {others}: the intervals meet.", others=told(meets))
        )
    if below:
        parts.append(_("Fewer stayed with {others}: the interval lies wholly below.", others=told(below)))
    return Statement(" ".join(parts), found)


def _doubt(e: Estimate) -> str:
    """Why fixings cannot be told apart, "" where they can."""
    if e.state != "estimated":
        return e.note
    said = e.note.partition("; ")[0]
    return said.removeprefix(CANNOT) if said.startswith(CANNOT) else ""


def least_held(told: Told, words: Words) -> Statement | None:
    """Where fewest units stayed by the last day that sites can be compared on, what its partners say of it, and how sure it is.

    Sites are compared within one method alone, the one that most of them can be compared by: of bags here and gravel
    there the sea tells nothing of the sites.
    """
    _ = words
    by: dict[str, dict[int, list[tuple[Site, Figure]]]] = {}
    for site in told.sites:
        for f in told.by_site.get(site.key, []):
            if f.indicator == "unit retention" and f.estimate.low is not None:
                by.setdefault(f.of("method"), {}).setdefault(int(f.of("day")), []).append((site, f))
    last = {m: days[max(many)] for m, days in by.items() if (many := [d for d, here in days.items() if len(here) > 1])}
    if not last:
        return None
    method = min(last, key=lambda m: (-len(last[m]), -sum(f.estimate.n for _s, f in last[m]), m))
    same = last[method]
    site, least = min(same, key=lambda x: (_middle(x[1].estimate), x[0].key))
    over = [s.key for s, f in same if s is not site and (f.estimate.low or 0.0) > (least.estimate.high or 0.0)]
    meet = [s.key for s, _f in same if s is not site and s.key not in over]
    said = _("Of {method}, by day {day} fewest units stayed at {site}: {share}.", method=_(method), day=least.of("day"),
             site=site.name, share=_with_interval(least.estimate, _))  # fmt: skip
    if over and meet:
        said += " " + _("Its interval lies wholly below those of {sites}, not of {others}.", sites=listed(over), others=listed(meet))  # fmt: skip
    elif over:
        said += " " + _("Its interval lies wholly below those of {sites}.", sites=listed(over))
    else:
        said += " " + _("Cannot tell it from {sites}: the intervals meet.", sites=listed(meet))
    if site.losses:
        causes = ", ".join(f"{_(cause)} {n}" for cause, n in site.losses)
        said += " " + _("What its partners think took units there: {losses}; no cause is proven.", losses=causes)
    return Statement(said, [f for _s, f in same])


def by_the_rules(told: Told, words: Words) -> Statement | None:
    """Which sites missed a rule of success: none can be said to have failed while every verdict is open."""
    _ = words
    found = [(s.key, rule, said, f) for s in told.sites for rule, said, f in verdicts(told, s.key, _)]
    if not found:
        return None
    failed = [(key, rule) for key, rule, said, _f in found if said == _("not met")]
    kept = {key for key, _r, said, _f in found if said == _("met")}
    figures = [f for *_x, f in found]
    if not failed and not kept:
        return Statement(_("By the programme's own rules: cannot tell yet at any site."), figures)  # fmt: skip
    parts = []
    for rule in dict.fromkeys(rule for _k, rule in failed):
        sites = [key for key, r in failed if r == rule]
        parts.append(_("The rule “{rule}” is not met at {sites}.", rule=rule, sites=listed(sites)))
    if not failed:
        parts.append(_("By the programme's own rules no site can be said to have failed."))
    return Statement(" ".join(parts), figures)


def next_work(told: Told, words: Words) -> list[str]:
    """What is to be done now and in the month to come: a line for each sort of work, with its sites."""
    _ = words
    now = [d for d in told.due if d.when in ("overdue", "soon")]
    sentences = {
        "check": _("look at the units at {sites}"),
        "survey": _("count frames at {sites}"),
        "gear": _("bring pieces home from {sites}"),
    }
    found = []
    for what in (*sentences, *sorted({d.what for d in now if d.site} - set(sentences))):
        mine = [d for d in now if d.what == what and d.site]
        if mine:
            late = sum(d.when == "overdue" for d in mine)
            sites = [d.site if d.when == "overdue" else f"{d.site} ({_.day(d.day)})" for d in mine]
            text = sentences.get(what, _("visit {sites}")).format(sites=listed(sites))
            found.append(text + (" " + _("(overdue: {n})", n=late) if late else ""))
    papers = [d for d in now if d.what == "permit"]
    if papers:
        late = sum(d.when == "overdue" for d in papers)
        found.append(_("report on permits: {n}", n=len(papers)) + (" " + _("(overdue: {n})", n=late) if late else ""))
    found += [d.told for d in now if not d.site and d.what != "permit"]
    if told.held:
        found.append(_("put right rows that are held: {n}", n=told.held))
    if told.waiting:
        found.append(_("decide things told in two ways: {n}", n=told.waiting))
    return found


def open_at(site: Site, answer: Came | None, words: Words) -> list[str]:
    """What is uncertain at one site, in few words, the widest first."""
    _ = words
    found = []
    if site.not_found_since:
        found.append(_("not found since {day}", day=_.day(site.not_found_since)))
    if answer is None:
        found.append(_("no recruits were looked for"))
    elif answer.difference is not None and answer.difference.estimate.low is not None:
        found += [_("the difference may be 0")] if answer.why else []
    elif answer.why:
        found.append(answer.why)
    counted = [f for _k, f in answer.densities] if answer else []
    found += [_.again(c) for c in dict.fromkeys(c for f in counted for c in f.estimate.cautions)]
    unknown = sum(n for cause, n in site.losses if cause == "unknown")
    if unknown:
        every = sum(n for _c, n in site.losses)
        found.append(_("what took {n} of {every} units told to be lost", n=unknown, every=every))
    return found
