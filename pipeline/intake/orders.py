"""In which order a column writes its days: settled by all of its cells together, or a question."""

import datetime as dt
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from pipeline.intake.days import readings


@dataclass(frozen=True)
class Order:
    """What the cells of one column say of its order.

    order    DMY, MDY, YMD or YDM; "" while they do not settle it (or need none: then `asked` is False).
    cells    up to three texts that settled it, or that contradict each other, or that can be read in several ways.
    asked    whether some cell cannot be read without knowing it: a question for whoever writes the mapping.
    against  whether cells contradict each other, so that no order reads them all.
    """

    order: str
    cells: tuple[str, ...]
    asked: bool = False
    against: bool = False

    def question(self) -> str:
        """What to write into the mapping, as a sentence; "" if nothing is asked."""
        if not self.asked:
            return ""
        shown = ", ".join(f"“{c}”" for c in self.cells)
        why = f"{shown} cannot all be written in one order" if self.against else f"{shown} can be read in several ways"
        return f'{why}; write dates = "DMY", "MDY" or "YMD" into the mapping of this sheet.'


def order_of(texts: Iterable[str]) -> Order:
    """The order of a column from its distinct texts (days alone, no times).

    Cells that name the month, begin with a year of four digits or are no day in any order say nothing of the others:
    a spreadsheet shows 3-Apr-25 to people who write 4/3/2025.
    """
    seen = {t: frozenset(found) for t in texts if (found := readings(t)) and _depends(t, found)}
    if not seen:
        return Order("", ())
    left = frozenset.intersection(*seen.values())
    left = left - {"YDM"} or left  # nobody writes so with a year of two digits, unless nothing else fits
    if len(left) == 1:
        telling = sorted(seen, key=lambda t: (len(seen[t]), t))
        return Order(next(iter(left)), tuple(telling[:3]))
    if not left:
        return Order("", _against(seen), asked=True, against=True)
    several = sorted(t for t in seen if len({readings(t)[o] for o in left}) > 1)
    return Order("", tuple(several[:3]), asked=bool(several))


def _depends(text: str, found: Mapping[str, dt.date]) -> bool:
    return "" not in found and not text[:4].isdigit()


def _against(seen: Mapping[str, frozenset[str]]) -> tuple[str, ...]:
    """The fewest cells that no order reads: two where two of them disagree."""
    texts = sorted(seen, key=lambda t: (len(seen[t]), t))
    pair = next(((texts[0], t) for t in texts if not seen[t] & seen[texts[0]]), None)
    return pair or tuple(texts[:3])
