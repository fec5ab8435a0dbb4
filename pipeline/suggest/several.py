"""Which kinds one sheet feeds: the likeliest, and those that the columns it leaves over tell of."""

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import replace

from pipeline.suggest.choose import SAME_FOR_ALL, Candidate, Choice
from pipeline.suggest.fit import Said
from pipeline.suggest.seen import Seen
from pipeline.suggest.shapes import WideSeen
from schemas.kinds import Kind

SECOND_KIND = 0.9  # so surely must the headings of a second kind speak
MOST_KINDS = 4
HELD = 0.75  # a heading that says less does not keep its column from a kind that it names outright
WORTH_ANOTHER_LOOK = 2.0
# what the kinds of one sheet share: where, when, on which dive, by whom
SHARED = {"happened", "site_key", "plot_key", "visit_key", "dive_number", "recorded_by", "down_at", "remarks", "media"}
ALONE = {"reading", "cost"}  # a logger's sheet and an account book hold nothing else

Chosen = list[tuple[Candidate, list[Choice]]]


def chosen_kinds(
    best: Sequence[Candidate],
    wide: WideSeen | None,
    columns: Sequence[Seen],
    again: Callable[[Kind, set[int]], Sequence[Choice]],
) -> Chosen:
    """The likeliest kind (a wide sheet's is told by its shape), and those that the columns it leaves over tell of.

    again: assigns a kind's columns once more, without those at these places.
    """
    first = best[0] if wide is None else next(c for c in best if c.kind.name == wide.kind)
    chosen: Chosen = [(first, [c for c in first.choices if wide is None or c.column.name not in wide.columns])]
    if first.kind.name in ALONE:
        return chosen
    for candidate in best:
        if candidate.kind.name == first.kind.name or candidate.kind.register or len(chosen) == MOST_KINDS:
            continue
        used = {c.at: c.column.name for _, cs in chosen for c in cs}
        places = wide.places if wide else ()
        weak = {
            c.at for _, cs in chosen for c in cs if c.heading.surely < HELD and (c.cells <= 0 or not c.column.required)
        }
        theirs = {at for at, name in used.items() if name not in {*SHARED, *candidate.kind.key}}
        added = _added(candidate, used, places, columns, weak)
        if not added and candidate.speaks > WORTH_ANOTHER_LOOK and any(c.at in theirs for c in candidate.choices):
            apart = replace(candidate, choices=tuple(again(candidate.kind, theirs)))
            added = _added(apart, used, places, columns, weak)
        if added:
            mine = {c.at for c in added if c.column.name not in {*SHARED, *candidate.kind.key}}
            chosen = [
                (k, [c for c in cs if c.at not in mine or (c.column.required and c.at not in weak)]) for k, cs in chosen
            ]
            chosen.append((candidate, added))
    return chosen


def _added(
    candidate: Candidate, used: Mapping[int, str], wide: Collection[int], columns: Sequence[Seen], weak: Collection[int]
) -> list[Choice]:
    """What a further kind takes of the columns that are left, and shares with the others; nothing when it is not there.

    weak: columns that others hold by half a heading, which go to the kind whose heading says it outright.

    It is there when a column of its own key is (a dive is named by its day and site), with at least another of its own.
    """
    kind = candidate.kind
    shared = [
        c
        for c in candidate.choices
        if c.column.name in {*SHARED, *kind.key} and used.get(c.at, c.column.name) == c.column.name
    ]
    strong = [
        c for c in candidate.choices if c.heading.surely >= SECOND_KIND and c.column.name not in {*SHARED, *kind.key}
    ]
    free = {c.at for c in candidate.choices if c.at not in used} | {
        c.at for c in strong if c.at in weak and c.column.required
    }
    extra = [c for c in candidate.choices if c.at in free and c.column.name not in SHARED]
    own = {*kind.key, *(c.name for c in kind.columns if c.required)} - SHARED
    named = own & {c.column.name for c in [*shared, *extra] if c.heading.surely >= SECOND_KIND or c.cells > 0.7}
    lacks = {c.name for c in candidate.missing} - SAME_FOR_ALL - SHARED
    firm = sum(c in strong or c.column.name in kind.key for c in extra)
    if len(extra) < 2 or not (named or (kind.name == "visit" and len(extra) > 2)) or lacks - own or len(lacks) > 1:
        return []
    if firm < (2 if len(extra) < 3 else 1):
        return []
    taken = {c.at for c in extra} | ({c.at for c in strong} if sum(c in extra for c in strong) >= 3 else set())
    taken |= {c.at for c in strong if c.at in weak}
    found = [*shared, *(c for c in candidate.choices if c.at in taken and c not in shared)]
    return [_own_day(c, used, {*taken, *wide}, columns) for c in found]


def _own_day(choice: Choice, used: Mapping[int, str], taken: Collection[int], columns: Sequence[Seen]) -> Choice:
    """Where a day is left over, it is the further kind's: the day it was seen again, not the day it was put down."""
    left = [
        n for n, c in enumerate(columns) if c.dated > 0.9 and n not in used and n not in taken and c.at not in taken
    ]
    if choice.column.name == "happened" and choice.at in used and len(left) == 1:
        return replace(choice, at=left[0], speaks=0.62, heading=Said())
    return choice
