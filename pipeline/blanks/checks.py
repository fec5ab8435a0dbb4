"""What a spreadsheet program checks while a cell is typed: a `Box` as data validation, with messages in words."""

import datetime as dt
import re
from collections.abc import Iterable

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
    soft = bool(source and not box.words) or box.rough
    made.errorStyle = SOFT if soft else HARD
    if source:
        made.type, made.formula1 = "list", source
    elif box.sort in ("day", "instant"):
        last = f"{today}+1" if box.sort == "instant" else today  # an instant of today is later than its midnight
        made.type, made.operator, made.formula1 = "date", "between", _date(EARLIEST)
        made.formula2 = _date(LATEST) if box.future else last
    elif box.sort in ("whole", "decimal"):
        _number(made, box)
    else:
        made.type, made.operator, made.formula1 = "textLength", "lessThanOrEqual", "80" if box.needed else "2000"
    wanted = asks(box, said)
    wrong = said("This is not on the list.") if source and soft else said("This cannot be taken as it stands.")
    wrong = said("This is no number alone.") if box.rough else wrong
    cure = said("Is it right as you wrote it?") if soft else said("Please write it so, or leave it blank.")
    made.promptTitle = made.errorTitle = _short([box.heading], TITLE)
    made.prompt = _short([box.wanted, said("Needed.") if box.needed else "", wanted], MESSAGE)
    made.error = _short([wrong, wanted, cure], MESSAGE)
    return made


def _date(day: dt.date) -> str:
    return f"DATE({day.year},{day.month},{day.day})"


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


def asks(box: Box, said: Tongue) -> str:
    """What may stand in a cell, in words."""
    if box.words:
        return said("One of: {words}.", words="; ".join(box.words))
    if box.offered:
        return said("Choose from the list.")
    if box.sort in ("whole", "decimal"):
        kind = said("A whole number") if box.sort == "whole" else said("A number")
        return f"{kind}{f' ({box.unit})' if box.unit else ''}{_span(box, said)}."
    if box.sort == "day":
        return said("A day.") if box.future else said("A day, not one to come.")
    if box.sort == "instant":
        return said("A day, with the time of day if you know it.")
    return "" if box.wanted or not box.sort else said("In your own words.")


def _span(box: Box, said: Tongue) -> str:
    """The limits of a number, in words."""
    low, high, above = (None if v is None else said.number(float(v), 12) for v in (box.least, box.most, box.above))
    if low is not None and high is not None and above is None:
        return said(", from {low} to {high}", low=low, high=high)
    told = said(", more than {low}", low=above) if above is not None else ""
    told = said(", at least {low}", low=low) if low is not None and not told else told
    return told + (said(", at most {high}", high=high) if high is not None else "")


def _short(texts: Iterable[str], most: int) -> str:
    """As much of some sentences as a program keeps, cut between words."""
    text = re.sub(r"\s+", " ", " ".join(filter(None, texts))).strip()
    return text if len(text) <= most else text[: most - 1].rsplit(" ", 1)[0] + "…"
