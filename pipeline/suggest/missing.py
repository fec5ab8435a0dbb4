"""Numbers that stand for “nothing was written”: -99999 and its like, which published tables are full of."""

import re
from collections import Counter
from collections.abc import Collection, Sequence

from pipeline.suggest.seen import NUMBER, number

NINES = re.compile(r"-9{2,}([.,]0+)?")  # below anything that is counted or measured
SHORT = re.compile(r"-[189]([.,]0+)?")  # may be degrees in winter, or a correction of a sum of money
POSITIVE = re.compile(r"9{3,}([.,]0+)?")  # may be a number like another
OFTEN = 2  # cells: once may be chance
FAR = 4  # times as much as anything else in the column


def missing_codes(header: Sequence[str], rows: Sequence[Sequence[str]], blanks: Collection[str]) -> frozenset[str]:
    """Texts of numbers that no cell means as a number, as far as the other cells of their columns tell.

    rows: below the headings, as wide, trimmed. blanks: words for a blank cell. Whoever proposes them asks.
    """
    found: Counter[str] = Counter()
    columns: dict[str, int] = {}
    for at, heading in enumerate(header):
        cells = Counter(r[at] for r in rows if r[at] and r[at].casefold() not in blanks) if heading else Counter()
        codes = {c for c in cells if any(p.fullmatch(c) for p in (NINES, SHORT, POSITIVE))}
        others = [number(c) for c in cells if c not in codes and NUMBER.fullmatch(c)]
        if not codes or min(others, default=0) < 0:
            continue
        for code in codes:
            if POSITIVE.fullmatch(code) and not (others and max(others) * FAR < number(code)):
                continue
            found[code] += cells[code]
            columns[code] = columns.get(code, 0) + 1
    return frozenset(
        c
        for c, n in found.items()
        if NINES.fullmatch(c) or (n >= OFTEN and (columns[c] >= OFTEN or POSITIVE.fullmatch(c)))
    )
