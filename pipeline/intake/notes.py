"""What a partner should know about how its file was read, a sentence each. Most files need none."""

from itertools import groupby

from pipeline.intake.encoding import NAMES
from pipeline.intake.sheet import TEXT, Sheet, Tally

LISTED = 12  # rows of one sort that are named
SURE = ("utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "utf-32", "cp1252")


def notes_on(sheet: Sheet, tally: Tally) -> list[str]:
    """Rows that were left out as furniture, and an encoding that was only likely."""
    where = f"Sheet “{sheet.name}”, " if sheet.name else ""
    notes = []
    for what, group in groupby(sorted(tally.left_out, key=lambda o: (o[1], o[0])), key=lambda o: o[1]):
        rows = list(group)
        listed = ", ".join(f"{row} (“{text[:60]}”)" for row, _, text in rows[:LISTED])
        more = f" and {len(rows) - LISTED} more" if len(rows) > LISTED else ""
        noun = "row" if len(rows) == 1 else "rows"
        notes.append(f"{where}{noun} {listed}{more} left out: {what}."[:1000])
    if sheet.form == TEXT and sheet.encoding not in SURE and any("only" in w for w in sheet.why[:1]):
        name = NAMES.get(sheet.encoding, sheet.encoding)
        notes.append(f"Its letters were read as {name}. If names look wrong, save it as UTF-8 and hand it in again.")
    return notes


def left_out(sheet: Sheet) -> list[str]:
    """That a sheet was left out as a whole."""
    rows = "row" if sheet.height == 1 else "rows"
    hidden = "hidden " if sheet.hidden else ""
    return [
        f"The {hidden}sheet “{sheet.name}” ({sheet.height} {rows}) has no headings that the mapping knows and was left out. "
        "If it holds data, tell the programme."
    ]
