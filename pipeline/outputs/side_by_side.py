"""What is told in two ways, side by side: a column for each who told of it, a line for each thing in which they differ."""

from collections import Counter
from collections.abc import Sequence
from itertools import groupby
from textwrap import wrap

from pipeline.outputs.layout import WIDTH, table
from pipeline.plural import n_of
from pipeline.unsettled import Saying, last_words

ALIKE_SHOWN = 3  # questions that one file left which are told unasked

RULES = (
    "In full, with what they tell alike: wrackline waiting WAITS",
    "To rule on one: wrackline settle WAITS CHOICE --by NAME --reason TEXT (CHOICE may be none: what counted before stays)",
    "On all questions of one file: wrackline settle-file RECEIPT new --by NAME --reason TEXT (or none)",
    "What waits here must be ruled on, or agreed on. `held` has every row that was not taken in, with its letter; `standing` "
    "what was taken in and waits for something else, or counts with a caution.",
)


def waiting(said: Sequence[Saying], every: bool = False, width: int = WIDTH) -> str:
    """What waits for a ruling: for each thing everything said of it side by side, as far as it differs.

    every: all that one file asks, not the first few alone.
    """
    things = [list(sayings) for _, sayings in groupby(said, key=lambda q: q.identity)]
    asked = Counter(_asked_by(sayings) for sayings in things)
    met: Counter[int] = Counter()
    lines: list[str] = []
    for sayings in things:
        receipt = _asked_by(sayings)
        met[receipt] += 1
        if receipt and not every and asked[receipt] > ALIKE_SHOWN + 1 and met[receipt] > ALIKE_SHOWN:
            if met[receipt] == asked[receipt]:
                q = next(q for q in sayings if q.entry == receipt)
                more = f"... and {n_of(asked[receipt] - ALIKE_SHOWN, 'more question')} of receipt {receipt} ({q.partner}, {q.file}): --rows lists them"
                lines += [*wrap(more, width), ""]
            continue
        lines += [*_thing(sayings, False, width), ""]
    return "\n".join([*lines, *(line for r in RULES for line in wrap(r, width))]) + "\n"


def in_full(said: Sequence[Saying], width: int = WIDTH) -> str:
    """One thing with every value that anybody told of it, alike or not, and the command that rules on it."""
    choices = " or ".join(dict.fromkeys([*(q.content[:8] for q in last_words(said)), "none"]))
    rule = f"To rule on it: wrackline settle {said[0].identity[:8]} CHOICE --by NAME --reason TEXT, CHOICE being {choices}."
    why = sorted({q.why for q in said if q.why})
    return "\n".join([*_thing(said, True, width), "", *(line for r in (*why, rule) for line in wrap(r, width))]) + "\n"


def _thing(said: Sequence[Saying], full: bool, width: int) -> list[str]:
    words = last_words(said)
    values = [dict(q.values) for q in words]
    rows = [
        ["told as", *(q.said_as for q in words)],
        ["file", *(q.file + (f" [{q.sheet}]" if q.sheet else "") for q in words)],
        ["row", *(str(q.row) for q in words)],
        ["received", *(f"{q.since}, receipt {q.entry}" for q in words)],
    ]
    if full:
        rows = [[*r, ""] for r in rows]
    for name in dict.fromkeys(n for told in values for n in told):
        cells = [told.get(name, "not told") for told in values]
        differs = len(set(cells)) > 1
        if full:
            rows.append([name, *cells, "differs" if differs else "alike"])
        elif differs:
            rows.append([name, *cells])
    if not any(values):
        rows.append(["it says", *(q.differs or q.says or "nothing more" for q in words), *([""] if full else [])])
    rows.append(["to choose", *(q.content[:8] for q in words), *([""] if full else [])])
    head = f"waits {said[0].identity[:8]}: {said[0].kind} {said[0].key}"
    return [head, *table(["", *(q.partner for q in words), *([""] if full else [])], rows, (), width)]


def _asked_by(sayings: Sequence[Saying]) -> int:
    """The receipt whose question this is, 0 where it is a conflict."""
    if any(q.said_as == "conflict" for q in sayings):
        return 0
    return max((q.entry for q in sayings if q.said_as == "question"), default=0)
