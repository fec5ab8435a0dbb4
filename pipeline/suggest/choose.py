"""Which kind a sheet tells of, and which of its columns feeds which of ours: the assignment with the most behind it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from pipeline.intake.mapping import derived
from pipeline.suggest.fit import CELLS_WEIGH, Registered, Said, cells_say
from pipeline.suggest.lexicon import Lexicon
from pipeline.suggest.seen import Seen
from pipeline.suggest.text import plain, tokens
from schemas.kinds import Column, Kind

ENOUGH = 0.6  # less does not speak for a column
SURE = 0.85  # so much needs no question
NEVER = {"happened_at", "happened_zone"}  # made from the day's own text
NOT_SUGGESTED = ("withdrawal", "ruling")
# what a file may leave unsaid because it is the same for all of it
SAME_FOR_ALL = {"frame_type", "placement", "protocol", "method", "outcome", "form", "currency", "action", "quantity", "unit", "activity", "how_known", "phase", "plot_key", "site_key", "species", "step"}  # fmt: skip
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
        return self.speaks >= SURE and self.heading.surely >= 0.75 and self.speaks - self.next_best >= 0.05


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
        lost = sum(0.25 if c.name in SAME_FOR_ALL else 1.2 for c in missing)
        made.append(Candidate(kind, choices, missing, weight - lost + hint.get(kind.name, 0.0)))
    return sorted(made, key=lambda c: -c.speaks)


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
    cells = np.zeros_like(table)
    for i, column in enumerate(ours):
        for j, seen in enumerate(columns):
            heading = said[j].get(column.name, Said()).surely
            if heading < 0.4 and not _unheaded(column, seen):
                continue
            cells[i, j] = cells_say(column, seen, words, registered)
            table[i, j] = heading + CELLS_WEIGH * cells[i, j] if heading >= 0.4 else 0.9 * max(0.0, cells[i, j] - 0.2)
            table[i, j] += 0.04 * column.required
    worth = np.where(table >= ENOUGH, table - ENOUGH + 0.05, 0.0)
    rows, places = linear_sum_assignment(-worth)
    return tuple(
        Choice(
            ours[i],
            int(j),
            float(table[i, j]),
            said[j].get(ours[i].name, Said()),
            float(cells[i, j]),
            _next(table, i, j),
        )
        for i, j in zip(rows, places, strict=True)
        if worth[i, j] > 0
    )


def _unheaded(column: Column, seen: Seen) -> bool:
    """Whether cells alone may say what a column is: known codes, words of ours, scientific names."""
    return bool(seen.filled) and (
        bool(column.refers) or bool(column.allowed) or column.name in ("unit_key", "species", "happened")
    )


def _next(table: "object", i: int, j: int) -> float:
    """What speaks most for another column of ours in the same place."""
    import numpy as np

    others = np.delete(np.asarray(table)[:, j], i)
    return float(others.max()) if others.size else 0.0
