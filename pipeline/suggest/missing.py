"""Numbers and marks that stand for “nothing was written”: -99999 and its like, which published tables are full of."""

import re
from collections import Counter
from collections.abc import Collection, Sequence

from pipeline.suggest.seen import NUMBER, number

NINES = re.compile(r"-9{2,}([.,]0+)?")  # below anything that is counted or measured
SHORT = re.compile(r"-[189]([.,]0+)?")  # may be degrees in winter, or a correction of a sum of money
POSITIVE = re.compile(r"9{3,}([.,]0+)?")  # may be a number like another
DOT = "."  # as programs for statistics write it
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
        codes = {c for c in cells if c == DOT or any(p.fullmatch(c) for p in (NINES, SHORT, POSITIVE))}
        others = [number(c) for c in cells if c not in codes and NUMBER.fullmatch(c)]
        low, high = min(others, default=0), max(others, default=0)
        for code in codes:
            if _stands_out(code, low, high):
                found[code] += cells[code]
                columns[code] = columns.get(code, 0) + 1
    return frozenset(
        c for c, n in found.items() if _sure(c) or (n >= OFTEN and (columns[c] >= OFTEN or POSITIVE.fullmatch(c)))
    )


def _sure(code: str) -> bool:
    return code == DOT or bool(NINES.fullmatch(code))


def _stands_out(code: str, low: float, high: float) -> bool:
    """Whether it lies far from all else in its column, which goes from `low` to `high`."""
    if code == DOT:
        return True
    n = number(code)
    return n < FAR * low if low < 0 else n < 0 or 0 < high * FAR < n
