"""What a spreadsheet program checks while a cell is typed: a `Box` as data validation, with messages in words."""

import datetime as dt
import re

from openpyxl.worksheet.datavalidation import DataValidation

from pipeline.blanks.boxes import Box
from pipeline.tongue import Tongue

EARLIEST, LATEST = dt.date(1950, 1, 1), dt.date(2100, 12, 31)  # as the kinds have it
TITLE, MESSAGE = 32, 255  # characters that spreadsheet programs keep
SHOWN = {"YMD": "yyyy-mm-dd", "DMY": "dd/mm/yyyy", "MDY": "mm/dd/yyyy"}
SOFT, HARD = "warning", "stop"  # a soft one asks whether it is meant so


def check(box: Box, said: Tongue, source: str, today: str = "TODAY()") -> DataValidation | None:
    """The check of a column, None for one that only tells something. source: the formula of the list it is chosen from."""
    if not box.sort:
        return None
    made = DataValidation(allow_blank=True, showErrorMessage=True, showInputMessage=True)
    made.errorStyle = HARD
    if source:
        made.type, made.formula1 = "list", source
        made.errorStyle = HARD if box.words else SOFT
    elif box.sort in ("day", "instant"):
        made.type, made.operator = "date", "between"
        made.formula1 = f"DATE({EARLIEST.year},{EARLIEST.month},{EARLIEST.day})"
        made.formula2 = (
            f"DATE({LATEST.year},{LATEST.month},{LATEST.day})"
            if box.future
            else f"{today}+1"
            if box.sort == "instant"
            else today
        )
    elif box.sort in ("whole", "decimal"):
        _number(made, box)
    else:
        made.type, made.operator, made.formula1 = "textLength", "lessThanOrEqual", "80" if box.needed else "2000"
    made.promptTitle = made.errorTitle = _short(box.heading, TITLE)
    made.prompt = _short(" ".join(t for t in (box.wanted, needs(box, said), asks(box, said)) if t), MESSAGE)
    ask = (
        said("Is it right as you wrote it?")
        if made.errorStyle == SOFT
        else said("Please write it so, or leave it blank.")
    )
    made.error = _short(
        " ".join(
            t
            for t in (
                said("This cannot be taken as it stands.")
                if made.errorStyle == HARD
                else said("This is not on the list."),
                asks(box, said),
                ask,
            )
            if t
        ),
        MESSAGE,
    )
    return made


def _number(made: DataValidation, box: Box) -> None:
    made.type = box.sort
    low = box.least if box.above is None else box.above
    if low is not None and box.most is not None and box.above is None:
        made.operator, made.formula1, made.formula2 = "between", f"{low:f}", f"{box.most:f}"
    elif box.above is not None:
        made.operator, made.formula1 = "greaterThan", f"{box.above:f}"
        if box.most is not None:  # the cell is put in when it is known where the check stands
            made.type, made.operator, made.formula1 = (
                "custom",
                None,
                f"AND(ISNUMBER(@),@>{box.above:f},@<={box.most:f})",
            )
    elif low is not None:
        made.operator, made.formula1 = "greaterThanOrEqual", f"{low:f}"
    elif box.most is not None:
        made.operator, made.formula1 = "lessThanOrEqual", f"{box.most:f}"
    else:
        made.operator, made.formula1, made.formula2 = "between", "-1000000000000", "1000000000000"


def needs(box: Box, said: Tongue) -> str:
    """Whether every row needs it, in words."""
    return said("Needed.") if box.needed else ""


def asks(box: Box, said: Tongue) -> str:
    """What may stand in a cell, in words."""
    if box.words:
        return said("One of: {words}.", words="; ".join(box.words))
    if box.offered:
        return said("Choose from the list.")
    unit = f" ({box.unit})" if box.unit else ""
    if box.sort in ("whole", "decimal"):
        kind = said("A whole number") if box.sort == "whole" else said("A number")
        low = box.least if box.above is None else None
        if box.above is not None:
            span = said(", more than {low}", low=_plain(box, box.above, said)) + (
                said(", at most {high}", high=_plain(box, box.most, said)) if box.most is not None else ""
            )
        elif low is not None and box.most is not None:
            span = said(", from {low} to {high}", low=_plain(box, low, said), high=_plain(box, box.most, said))
        elif low is not None:
            span = said(", at least {low}", low=_plain(box, low, said))
        else:
            span = said(", at most {high}", high=_plain(box, box.most, said)) if box.most is not None else ""
        return f"{kind}{unit}{span}."
    if box.sort == "day":
        return said("A day.") if box.future else said("A day, not one to come.")
    if box.sort == "instant":
        return said("A day, with the time of day if you know it.")
    return ""


def _plain(box: Box, value: object, said: Tongue) -> str:
    return said.number(float(str(value)), 12)


def _short(text: str, most: int) -> str:
    """As much of a text as a program keeps, cut between words."""
    text = re.sub(r"\s+", " ", text).strip()
    return text if len(text) <= most else text[: most - 1].rsplit(" ", 1)[0] + "…"
