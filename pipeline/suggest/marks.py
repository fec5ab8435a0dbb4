"""How numbers and days are written in a sheet, from its cells: what they settle, and what they leave open."""

import re
from collections.abc import Sequence
from dataclasses import dataclass

from pipeline.intake.days import readings
from pipeline.intake.orders import order_of
from pipeline.suggest.seen import NAMED_DAY, Seen

MANY_YEARS = 5  # that one sheet hardly spans


@dataclass(frozen=True)
class Told:
    """A mark or an order, "" when the cells do not settle it, and the cells that say so."""

    value: str
    why: str


def order_of_days(columns: Sequence[Seen], headings: Sequence[str] = ()) -> Told:
    """YMD, DMY or MDY for all the columns together; "" when every day could be two days, or no order reads them all.

    headings: those that are days. Years of two digits stand where they keep the days near each other.
    """
    cells = [*headings, *(cell for column in columns for cell in column.cells)]
    texts = [re.sub(r"[T ]\d\d?[:h.]\d\d.*$", "", cell) for cell in cells]
    found = order_of(texts)
    if found.asked and not found.against and _year_is_last(texts):
        texts = [re.sub(r"(\d\d)$", r"20\1", t) for t in texts]
        found = order_of(texts)
    shown = " and ".join(f"“{c}”" for c in found.cells[:2])
    if found.against:
        return Told("", f"{shown} contradict each other")
    if found.asked:
        return Told("", f"{shown} could be day/month or month/day, and no cell settles it")
    if found.order in ("DMY", "MDY"):
        return Told(found.order, f"“{found.cells[0]}” can be nothing else")
    day = next((t for t in texts if re.match(r"\d{4}", t) and readings(t)), "")
    named = next((t for t in texts if NAMED_DAY.fullmatch(t)), "")
    if named and not day and not found.order:
        return Told("DMY" if named[0].isdigit() else "MDY", f"months are written by name, as in “{named}”")
    return Told(found.order or "YMD", f"“{day}”" if day else "no day is written in figures alone")


def _year_is_last(texts: Sequence[str]) -> bool:
    """Whether days such as 23.05.25 are of one or two years when the year stands last, and of many when it stands first."""
    days = {t for t in texts if re.fullmatch(r"\d{1,2}([-/. ])\d{1,2}\1\d\d", t)}
    numbers = [tuple(map(int, re.findall(r"\d+", t))) for t in days]
    first, last = [n[0] for n in numbers], [n[-1] for n in numbers]
    return len(days) > 1 and max(last) - min(last) < 2 and max(first) - min(first) > MANY_YEARS


def decimal_mark(columns: Sequence[Seen]) -> Told:
    """The mark between whole and part; "" when only marks before exactly three digits are there."""
    found: dict[str, str] = {}
    doubtful = ""
    for cell in (c for column in columns if column.numeric > 0.5 for c in column.cells):
        several = re.fullmatch(r"[+-]?\d{1,3}([.,])\d{3}(?:\1\d{3})*(?:([.,])\d+)?", cell)
        plain = re.fullmatch(r"[+-]?\d+([.,])\d+", cell)
        if several and several[2]:
            found.setdefault(several[2], cell)
        elif plain and not several:
            found.setdefault(plain[1], cell)
        elif several:
            doubtful = doubtful or cell
    if len(found) == 1:
        [(mark, cell)] = found.items()
        return Told(mark, f"“{cell}”")
    if found:
        return Told("", f"“{found['.']}” and “{found[',']}” stand side by side")
    if doubtful:
        return Told("", f"“{doubtful}” may be a thousand or a part")
    return Told(".", "no number has a part")


def thousands_mark(columns: Sequence[Seen], decimal: str) -> str:
    """The mark between groups of three digits, "" if there is none."""
    for cell in (c for column in columns if column.counted > 0.5 for c in column.cells):
        found = re.fullmatch(r"[+-]?\d{1,3}([ '.,])\d{3}(\1\d{3})*([.,]\d+)?", cell)
        if found and found[1] != decimal and (found[2] or found[3] or found[1] in " '"):
            return found[1]
    return ""
