"""The funder's report: two printed pages of plain sentences made from the figures, each footed with figure ids.

A sentence says no more than its interval: recruits are not a forest, a trial's price is no price of a hectare.
"""

from typing import Any

from pipeline.pages.answers import by_rule, came, fixing, held, price
from pipeline.pages.charts import intervals, shown
from pipeline.pages.shell import Shell
from pipeline.pages.short import Statement, best_fixing, last_season, over_seasons, recruits

SITES_SHOWN = 14  # lines of a chart that leave the report two pages
FOOTED = 12


def report_page(shell: Shell) -> bytes:
    """The report's bytes."""
    kelp, chart = _kelp(shell)
    stays, fixings = _stays(shell)
    return shell.page(
        "report.html", "report.html", kelp=kelp, kelp_chart=chart, stays=stays, fixings=fixings, cost=_cost(shell), seasons=_seasons(shell), methods=_methods(shell),
        unknown=_unknown(shell), footed=FOOTED, style=shell.style(),
    )  # fmt: skip


def _kelp(shell: Shell) -> tuple[list[Statement], str]:
    told, _ = shell.told, shell.words
    answers = {s.key: c for s in told.sites if (c := came(told, s.key, _)) is not None}
    made = [recruits(told, answers, _)]
    if not answers:
        return made, ""
    over = over_seasons(told)
    if over:
        above = [g for g in over if g.estimate.low is not None and g.estimate.low > 0]
        text = _("Sites taken together tell more than one alone: over all of them, recruits in treated plots outnumbered those in control plots in {above} of {n} seasons that can be compared.",
                 above=len(above), n=len(over))  # fmt: skip
        rest = _("In the others it cannot be told, or was not so.") if len(above) < len(over) else ""
        made.append(Statement(f"{text} {rest}".strip(), over))
    season = last_season(told, _)
    made += [season] if season else []
    made += [Statement(text, figures) for text, figures in by_rule(told, answers, _)]
    lines = [shown("difference", next(s.name for s in told.sites if s.key == k), c.difference.estimate)
             for k, c in answers.items() if c.difference] if len(answers) <= SITES_SHOWN else []  # fmt: skip
    title = _("Treated minus control, recruits per m², last survey of each site")
    return made, intervals(title, lines, _, "per m²") if lines else ""


def _seasons(shell: Shell) -> dict[str, Any]:
    """The mean difference over sites, season by season."""
    told, _ = shell.told, shell.words
    found = over_seasons(told)[-SITES_SHOWN:]
    if not found:
        return {}
    lines = [
        shown(
            "difference",
            _("season from {season}, sites: {n}", season=_.when(f.of("season")), n=f.estimate.n),
            f.estimate,
        )
        for f in found
    ]
    title = _("Treated minus control over sites, recruits per m²")
    return {"title": title, "chart": intervals(title, lines, _, "per m²"), "figures": found}


def _methods(shell: Shell) -> list[Statement]:
    """What a unit of each method cost, and one that held."""
    told, _ = shell.told, shell.words
    every, made = told.by_site.get("all", []), []
    for method in sorted({f.of("method") for f in every if f.indicator == "cash per unit"}):
        mine = [
            f
            for name in ("cash per unit", "cash per retained unit")
            for f in every
            if f.indicator == name and f.of("method") == method
        ]
        put, held_ = mine[0], mine[1] if len(mine) > 1 else None
        if put.estimate.value is None:
            continue
        text = _(
            "A unit of the method {method} cost {value} {currency} to put down",
            method=_(method),
            value=_.value(put.estimate),
            currency=told.currency,
        )
        if held_ is not None and held_.estimate.state != "not estimable":
            text += _(
                "; one that still held at the end of the release window {value} {currency}.",
                value=_.value(held_.estimate),
                currency=told.currency,
            )
        else:
            text += _("; what one that held cost cannot be told.")
        made.append(Statement(text, mine))
    return made


def _stays(shell: Shell) -> tuple[list[Statement], dict[str, Any]]:
    told, _ = shell.told, shell.words
    stays = held(told, None, "all")
    made = []
    known = [f for f in stays.figures if f.estimate.state != "not estimable"]
    if not known:
        made.append(
            Statement(_("Whether units held cannot be told: no tagged unit was looked for again."), list(stays.figures))
        )
    for f in known:
        e = f.estimate
        text = _("After {day} days {value} of the units of the method {method} were in place (95 % interval {interval}; units looked for: {n}).",
                 day=f.of("day"), value=_.value(e), method=_(f.of("method")), interval=_.between(e) or "–", n=e.n)  # fmt: skip
        made.append(Statement(text, [f]))
    every = told.by_site.get("all", [])
    for f in every:
        if f.indicator == "fixings told apart":
            best = best_fixing(every, f.of("method"), _)
            made += [best] if best else []
            if f.estimate.state != "estimated" or (best and f in best.figures):  # its reason is told already
                continue
            note = "; ".join(f.estimate.note.split("; ")[:2])
            text = _("Fixings of the method {method}: {note}.", method=_(f.of("method")), note=_.again(note))
            made.append(Statement(text, [f]))
    mine = [f for f in every if f.indicator == "unit retention by fixing"]
    day = max((int(f.of("day")) for f in mine if f.estimate.state != "not estimable"), default=None)
    chosen = sorted((f for f in mine if f.of("day") == str(day)), key=lambda f: (f.of("method"), f.of("fixing")))
    if not chosen:
        return made, {}
    title = _("Share in place on day {day}, by fixing", day=day)
    lines = [shown("treated", fixing(f.of("fixing"), _), f.estimate) for f in chosen]
    return made, {"title": title, "chart": intervals(title, lines, _, "fraction", (0, 1)), "figures": chosen}


def _cost(shell: Shell) -> list[Statement]:
    told, _ = shell.told, shell.words
    paid = price(told, "all")
    plain = {f.indicator: f for f in told.by_site.get("all", []) if len(f.scope) == 1}
    areas = [f for f in told.figures if f.indicator == "treated area"]
    made = []
    if paid.in_all and paid.in_all.estimate.value is not None and areas:
        area = sum(f.estimate.value or 0.0 for f in areas)
        text = _("{sum} {unit} in cash were paid for {area} m² planted (sites: {n}).", sum=_.money(paid.in_all.estimate.value),
                 unit=told.currency, area=_.number(area), n=len(areas))  # fmt: skip
        made.append(Statement(text, [paid.in_all, *areas]))
    others = [(f, plain.get(f)) for f in ("in kind in all", "hours in all")]
    given = [(n, f) for n, f in others if f and f.estimate.value is not None]
    if given:
        parts = [
            f"{_.money(f.estimate.value or 0)} {told.currency if n.startswith('in') else _('hours')}" for n, f in given
        ]
        text = _(
            "Beside it, and never added to it, {parts} were given (gifts in kind and hours).",
            parts=_(" and ").join(parts),
        )
        made.append(Statement(text, [f for _n, f in given]))
    if paid.per_hectare and paid.per_hectare.estimate.value is not None:
        e = paid.per_hectare.estimate
        text = _("That is {value} {unit} per planted hectare (95 % interval {interval}, exchange rates left out).",
                 value=_.number(e.value or 0), unit=told.currency, interval=_.between(e) or "–")  # fmt: skip
        if paid.trial:
            text += " " + _("It is the cost of a trial: do not scale it.")
        made.append(Statement(text, [paid.per_hectare]))
    return made or [Statement(_("What was paid cannot be told: no cost is recorded."), [])]


def _unknown(shell: Shell) -> list[str]:
    told, _ = shell.told, shell.words
    found = [
        _(
            "A recruit is a young plant. That it came says nothing of whether it stays, of grazing, of warm summers, or of who its parents were."
        ),
        _("“Cannot tell” is not “no”: too few frames were counted, or a fair comparison was not possible."),
    ]
    if told.held or told.waiting:
        found.append(_("Rows of partners' files that are held: {held}; none of them is in these figures. Things told in two ways, which wait for a ruling: {waiting}; where two partners differ neither counts, where a partner's own files differ what was told first does.",
                       held=told.held, waiting=told.waiting))  # fmt: skip
    lost = [s.name for s in told.sites if s.not_found_since]
    if lost:
        found.append(_("Not found again, and what is there is not known: {sites}.", sites=", ".join(lost[:20])))
    return found
