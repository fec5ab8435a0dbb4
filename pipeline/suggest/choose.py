"""Which kind a sheet tells of, and which of its columns feeds which of ours: the assignment with the most behind it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from pipeline.intake.mapping import derived
from pipeline.suggest.cells import CELLS_WEIGH, cells_say
from pipeline.suggest.fit import KNOWN_AS_NOTHING, Registered, Said
from pipeline.suggest.lexicon import NOTHING, Lexicon
from pipeline.suggest.seen import Seen
from pipeline.suggest.text import plain, tokens
from schemas.kinds import Column, Kind

IMPOSSIBLE = -0.6  # cells that say this cannot be outvoted by a heading
ENOUGH = 0.6  # less does not speak for a column
OUTRIGHT = 0.25
REMARKS_ALONE = 0.3  # more than long texts weigh: “Remarks” is remarks before “Description” is, be it empty
SURE = 0.85  # so much needs no question
NEVER = {"happened_at", "happened_zone"}  # made from the day's own text
NOT_SUGGESTED = ("withdrawal", "ruling")
# what a file may leave unsaid because it is the same for all of it
SAME_FOR_ALL = {"frame_type", "placement", "protocol", "method", "outcome", "form", "currency", "action", "quantity", "unit", "activity", "how_known", "phase", "plot_key", "site_key", "species", "step"}  # fmt: skip
# what registers need and lists of places seldom have
SELDOM_WRITTEN = {"name", "uncertainty_m", "radius_m", "country", "estimated_on"}
# words for a beginning and an end are said of whatever begins and ends in a kind
BEGINS = ("started_at", "cut_from", "valid_from", "role_from", "in_water_from")
ENDS = ("ended_at", "cut_to", "valid_to", "role_to", "in_water_to")
# our columns that many kinds have, so that they say little about which it is
COMMON = {
    "happened",
    "site_key",
    "plot_key",
    "recorded_by",
    "remarks",
    "media",
    "visit_key",
    "dive_number",
    "depth_m",
    "species",
}


@dataclass(frozen=True)
class Choice:
    """One column of the sheet given to one of ours: how much speaks for it, and how much for the next best."""

    column: Column
    at: int
    speaks: float
    heading: Said
    cells: float
    next_best: float = 0.0

    @property
    def sure(self) -> bool:
        """Whether it needs no question."""
        told = self.heading.surely >= 0.75 and not self.heading.foreign
        return self.speaks >= SURE and told and self.speaks - self.next_best >= 0.05


@dataclass(frozen=True)
class Candidate:
    """A kind with its columns assigned, and what speaks for all of it."""

    kind: Kind
    choices: tuple[Choice, ...]
    missing: tuple[Column, ...]
    speaks: float


def candidates(
    kinds: Mapping[str, Kind], columns: Sequence[Seen], said: Sequence[Mapping[str, Said]], words: Lexicon,
    registered: Registered, title: str, has_day: bool,
) -> list[Candidate]:  # fmt: skip
    """Every kind, the likeliest first. title: what the names of file and sheet and the lines above say."""
    hint = _hint(title, words)
    made = []
    for kind in kinds.values():
        if kind.name in NOT_SUGGESTED:
            continue
        choices = assigned(kind, columns, said, words, registered)
        got = {c.column.name for c in choices} | ({"happened"} if has_day else set())
        missing = tuple(c for c in kind.columns if c.required and c.name not in got and not derived(kind, c.name))
        weight = sum((0.35 if c.column.name in COMMON else 1.0) * (c.speaks - 0.3) for c in choices)
        lost = sum(_lack(kind, c) for c in missing)
        undated = 0.6 if kind.register and not has_day and not any(c.dated > 0.7 for c in columns) else 0.0
        made.append(Candidate(kind, choices, missing, weight - lost + undated + hint.get(kind.name, 0.0)))
    return sorted(made, key=lambda c: -c.speaks)


def _lack(kind: Kind, column: Column) -> float:
    """What speaks against a kind when a column it needs is not there."""
    if column.name in SAME_FOR_ALL:
        return 0.25
    if column.name in SELDOM_WRITTEN:
        return 0.2
    if column.name == "frame_key":  # it can be told from what else tells rows apart, or is asked
        return 0.6
    return 1.5 if column.name in kind.key else 1.0


def _hint(title: str, words: Lexicon) -> dict[str, float]:
    """What the names say about the kind; a word in the title that leads to one counts, longer ones more."""
    text = plain(title)
    found: dict[str, float] = {}
    for word, kind in words.kinds.items():
        if set(tokens(word)) <= set(text.split()):
            found[kind] = max(found.get(kind, 0.0), 0.9 + 0.1 * len(word.split()))
    return found


def assigned(
    kind: Kind, columns: Sequence[Seen], said: Sequence[Mapping[str, Said]], words: Lexicon, registered: Registered
) -> tuple[Choice, ...]:
    """The assignment of a kind's columns that has the most behind it (Kuhn's, by scipy)."""
    import numpy as np
    from scipy.optimize import linear_sum_assignment

    ours = [c for c in kind.columns if c.name not in NEVER]
    if not columns or not ours:
        return ()
    table = np.zeros((len(ours), len(columns)))
    cells, headings = np.zeros_like(table), np.zeros_like(table)
    for i, column in enumerate(ours):
        for j, seen in enumerate(columns):
            heading = headings[i, j] = _surely(kind, column, seen, said[j])
            if seen.running and column.name != "record_key":
                continue
            if heading < 0.4 and not _unheaded(column, seen):
                continue
            cells[i, j] = cells_say(column, seen, words, registered)
            table[i, j] = (
                heading + CELLS_WEIGH * cells[i, j] if heading >= 0.4 else _alone(column, cells[i, j], seen, said[j])
            )
            if kind.register and kind.key == (column.name,) and seen.filled:  # a list names each thing once
                table[i, j] += 0.15 if len(seen.cells) == seen.filled else -0.4
            if column.name == "remarks" and heading == 1 and _only(said[j]):
                table[i, j] += REMARKS_ALONE
            nothing = said[j].get(NOTHING, Said()).surely >= KNOWN_AS_NOTHING
            if cells[i, j] <= IMPOSSIBLE and (column.type != "text" or nothing):
                table[i, j] = 0.0
            table[i, j] += 0.04 * column.required * (table[i, j] > 0)
    _coded_elsewhere(table, ours, columns, words)
    _own_days(table, kind, ours, columns, said)
    # what a heading says outright is not given away so that another may be half right
    worth = np.where(table >= ENOUGH, table - ENOUGH + 0.05 + OUTRIGHT * (headings == 1), 0.0)
    rows, places = linear_sum_assignment(-worth)
    firm = {int(i) for i, j in zip(rows, places, strict=True) if worth[i, j] > 0}
    return tuple(
        Choice(
            ours[i],
            int(j),
            float(table[i, j]),
            said[j].get(ours[i].name, Said()),
            float(cells[i, j]),
            _next(table, i, j, firm),
        )
        for i, j in zip(rows, places, strict=True)
        if worth[i, j] > 0
    )


def _only(says: Mapping[str, Said]) -> bool:
    """Whether a heading says one thing outright: “Notes”, not “Description”, which is of a cost too."""
    return sum(s.surely >= 1 for s in says.values()) == 1


def _own_days(
    table: Any, kind: Kind, ours: Sequence[Column], columns: Sequence[Seen], said: Sequence[Mapping[str, Said]]
) -> None:
    """Where a day says outright that it is what the kind's day is made from (put down on), no other day is the kind's."""
    own = {
        j
        for j, says in enumerate(said)
        if says.get(kind.happened_from, Said()).surely >= 0.95 and _day_only(columns[j])
    }
    for i, column in enumerate(ours):
        if column.name == "happened" and own:
            table[i, [j for j in range(len(columns)) if j not in own]] -= 0.6


def _day_only(seen: Seen) -> bool:
    return seen.dated > 0.7 and seen.day_alone > 0.7


def _coded_elsewhere(table: Any, ours: Sequence[Column], columns: Sequence[Seen], words: Lexicon) -> None:
    """Cells that are all words of one coded column speak against free text in their place, whatever heads them."""
    coded = [c for c in ours if c.allowed and c.required]
    free = [i for i, c in enumerate(ours) if c.type == "text" and not c.allowed and not c.name.endswith("_key")]
    for j, seen in enumerate(columns):
        if (
            len(seen.cells) > 2
            and seen.numeric < 0.5
            and any(all(words.ours(c.name, x) for x in seen.cells) for c in coded)
        ):
            table[free, j] -= 0.35 + OUTRIGHT


def _surely(kind: Kind, column: Column, seen: Seen, says: Mapping[str, Said]) -> float:
    """What the heading says for a column, by the rules that hold for a kind as a whole.

    A day that makes the day of its kind is that day, unless a time is written too. A register's “code” is its own.
    """
    heading = says.get(column.name, Said()).surely
    day_only = _day_only(seen)
    if (
        column.name == "happened"
        and kind.happened_from
        and day_only
        and kind.column(kind.happened_from).type == "instant"
    ):
        heading = max(heading, says.get(kind.happened_from, Said()).surely)
    if column.type == "instant" and day_only:
        heading -= 0.3
    for alike in (BEGINS, ENDS):
        if column.name in alike:
            heading = max(heading, *(says.get(c, Said()).surely - 0.08 for c in alike))
    if kind.register and column.name == kind.key[-1] and seen.words in ("code", "codigo", "kode", "id", "no", "key"):
        heading = 1.0
    if kind.name == "cost" and column.name == "for_key":
        heading = max(heading, 0.98 * max(says.get(c, Said()).surely for c in ("site_key", "plot_key")))
    return heading


def _alone(column: Column, cells: float, seen: Seen, says: Mapping[str, Said]) -> float:
    """What cells weigh where the heading says nothing of it: days are days, but there may be several."""
    if column.name == "happened":
        other = max((says[c].surely for c in says if c not in ("happened", "happened_at")), default=0.0)
        return (0.62 if other < 0.9 else 0.605) if cells > 0.4 else 0.0
    if column.name in ("latitude", "longitude"):
        return 0.66 if cells > 0.4 else 0.0
    if column.allowed and cells >= 1 and len(seen.cells) > 2:
        return 0.85
    return 0.4 + 0.35 * cells if cells > 0.6 else 0.0


def _unheaded(column: Column, seen: Seen) -> bool:
    """Whether cells alone may say what a column is: known codes, words of ours, scientific names.

    Neither numbers nor letters (H, M, L) are words: they stand for anything.
    """
    told = bool(column.allowed) and seen.numeric < 0.5 and max(map(len, seen.cells), default=0) > 2
    return bool(seen.filled) and (bool(column.refers) or told or column.name in ("unit_key", "species", "happened"))


def _next(table: Any, i: int, j: int, taken: set[int]) -> float:
    """What speaks most for another column of ours in the same place, of those that have none of their own."""
    others = [float(table[k, j]) for k in range(len(table)) if k != i and k not in taken]
    return max(others, default=0.0)
