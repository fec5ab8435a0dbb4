"""A partner's own page: what it gave, how complete and how soon, how its reports compare, and the one thing that helps most.

It thanks before it counts, sets a partner beside all others together and never beside one, and says nothing without its interval.
"""

from collections.abc import Iterator
from typing import Any

from pipeline.indicators.estimate import Estimate
from pipeline.indicators.figure import Figure
from pipeline.pages.shell import Shell
from pipeline.pages.told import Partner
from pipeline.pages.words import Words

COUNTS_SHOWN = 20
SUMS = ("cash in all", "in kind in all", "hours in all")


def partner_pages(shell: Shell) -> Iterator[tuple[str, bytes]]:
    """The page of every partner, with its path."""
    for partner in shell.told.partners:
        path = "partners/" + shell.name_of(partner.name)
        yield path, shell.page("partner.html", path, linked=True, **_values(shell, partner))


def partner_alone(shell: Shell, partner: Partner) -> bytes:
    """The same page alone, without links to others, as it lies beside the partner's letters."""
    return shell.page("partner_alone.html", "", linked=False, style=shell.style(), **_values(shell, partner))


def _values(shell: Shell, partner: Partner) -> dict[str, Any]:
    words, given = shell.words, partner.given
    looks = given.looks
    return {
        "partner": partner,
        "given": given,
        "sums": [f for f in shell.told.figures if _is_sum(f, partner.name)],
        "beside": beside(words, looks.mine, looks.others) if looks else "",
        "counts": [(c, apart(words, c.ratio)) for c in given.counts[:COUNTS_SHOWN]],
        "more_counts": max(0, len(given.counts) - COUNTS_SHOWN),
        "next": helps_most(words, partner),
    }


def _is_sum(f: Figure, partner: str) -> bool:
    """Whether it is what the partner gave in all, in cash, in kind or in hours, and not of one site or category."""
    of = dict(f.scope)
    return f.indicator in SUMS and of.pop("partner", "") == partner and not set(of.values()) - {"all"}


def beside(words: Words, mine: Estimate, others: Estimate) -> str:
    """What two shares with their intervals say together: nothing while the intervals meet."""
    if None in (mine.low, mine.high, others.low, others.high):
        return words("Too few looks to compare.")
    if mine.low > others.high:  # type: ignore[operator]  # none is None here
        return words("The intervals do not meet: units were missed more often in your looks. Visibility, time and the units themselves may be why.")  # fmt: skip
    if mine.high < others.low:  # type: ignore[operator]  # none is None here
        return words("The intervals do not meet: units were missed less often in your looks. Visibility, time and the units themselves may be why.")  # fmt: skip
    return words("The intervals meet: these looks cannot tell you and the others apart.")


def apart(words: Words, ratio: Estimate) -> str:
    """What a ratio of counts says: nothing while its interval holds 1, or where there is none."""
    if ratio.low is None or ratio.high is None or ratio.low <= 1 <= ratio.high:
        return words("cannot tell")
    return words("more in your frames") if ratio.low > 1 else words("fewer in your frames")


def helps_most(words: Words, partner: Partner) -> str:
    """The one thing that would help most next: what most of the partner's statements lack and it alone can give."""
    given = partner.given
    advice = {
        "absence without effort": words("Where a unit is not found, write how long you searched (looks without it: {n}). Only then does an absence weigh in full."),
        "count without area": words("Write the area of every frame (counts without it: {n}). They wait until it is told."),
        "never deployed": words("Hand in when and where the units were put down that you looked at (looks that wait for it: {n})."),
        "unknown plot": words("Name the plots to the programme that your rows speak of (rows that wait for it: {n})."),
        "unknown site": words("Name the sites to the programme that your rows speak of (rows that wait for it: {n})."),
        "rough count": words("Where you can, count to the plant (counts “about” or “at least”: {n})."),
    }  # fmt: skip
    asks = [(n, advice[rule].format(n=words.number(n, 6))) for rule, n in given.remarked if rule in advice]
    if given.still_open:
        told = words("Mend the rows that are held (rows: {n}). Your letters say of each what to do.")
        asks.append((given.still_open, told.format(n=words.number(given.still_open, 6))))
    if given.dives > given.dives_seen:
        n = given.dives - given.dives_seen
        told = words("Write how far you could see on every dive (dives without it: {n}). A unit missed in bad sight is not a lost one.")  # fmt: skip
        asks.append((n, told.format(n=words.number(n, 6))))
    if partner.waiting:
        told = words("Agree on what you and another tell in two ways (things: {n}).")
        asks.append((partner.waiting, told.format(n=words.number(partner.waiting, 6))))
    return max(asks, key=lambda a: a[0])[1] if asks else words("Nothing is missing. Please go on as you do.")
