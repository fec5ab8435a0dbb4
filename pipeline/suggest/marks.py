"""How numbers and days are written in a sheet, from its cells: what they settle, and what they leave open."""

import re
from collections.abc import Sequence
from dataclasses import dataclass

from pipeline.suggest.seen import DAY, NAMED_DAY, Seen


@dataclass(frozen=True)
class Told:
    """A mark or an order, "" when the cells do not settle it, and the cells that say so."""

    value: str
    why: str


def order_of_days(columns: Sequence[Seen]) -> Told:
    """YMD, DMY or MDY for all the columns together; "" when every day could be two days."""
    seen: dict[str, str] = {}
    named: dict[str, str] = {}
    doubtful = ""
    for cell in (c for column in columns for c in column.cells):
        found = DAY.match(cell)
        if found is None:
            if NAMED_DAY.fullmatch(cell):
                named.setdefault("DMY" if cell[0].isdigit() else "MDY", cell)
            continue
        if found[1]:
            seen.setdefault("YMD", cell)
        elif int(found[5]) > 12:
            seen.setdefault("DMY", cell)
        elif int(found[7]) > 12:
            seen.setdefault("MDY", cell)
        else:
            doubtful = doubtful or cell
    orders = [o for o in ("DMY", "MDY") if o in seen]
    if len(orders) == 1:
        return Told(orders[0], f"“{seen[orders[0]]}” can be nothing else")
    if orders:
        return Told("", f"“{seen['DMY']}” and “{seen['MDY']}” contradict each other")
    if doubtful:
        return Told("", f"“{doubtful}” could be day/month or month/day, and no cell settles it")
    if named and not seen:
        [(order, cell), *_] = named.items()
        return Told(order, f"months are written by name, as in “{cell}”")
    return Told("YMD", f"“{seen['YMD']}”" if seen else "no day is written in figures alone")


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
    for cell in (c for column in columns if column.numeric > 0.5 for c in column.cells):
        found = re.fullmatch(r"[+-]?\d{1,3}([ '.,])\d{3}(\1\d{3})*([.,]\d+)?", cell)
        if found and found[1] != decimal and (found[2] or found[3] or found[1] in " '"):
            return found[1]
    return ""
