"""What a partner should know about how its file was read, a sentence each. Most files need none."""

from itertools import groupby

from pipeline.intake.encoding import NAMES
from pipeline.intake.sheet import Sheet, Tally
from pipeline.plural import n_of

LISTED = 12  # rows of one sort that are named


def notes_on(sheet: Sheet, tally: Tally) -> list[str]:
    """Rows that were left out as furniture, and an encoding that was only likely.

    Rows are named by number alone: notes stand in the ledger's entries, from which no text can ever be erased.
    """
    where = f"Sheet “{sheet.name}”, " if sheet.name else ""
    notes = []
    for what, group in groupby(sorted(tally.left_out, key=lambda o: (o[1], o[0])), key=lambda o: o[1]):
        rows = [row for row, _ in group]
        listed = ", ".join(map(str, rows[:LISTED])) + (f" and {len(rows) - LISTED} more" if len(rows) > LISTED else "")
        notes.append(f"{where}{'row' if len(rows) == 1 else 'rows'} {listed} left out: {what}.")
    if sheet.guessed:
        name = NAMES.get(sheet.encoding, sheet.encoding)
        notes.append(f"Its letters were read as {name}. If names look wrong, save it as UTF-8 and hand it in again.")
    return notes


def left_out(sheet: Sheet) -> list[str]:
    """That a sheet was left out as a whole."""
    hidden = "hidden " if sheet.hidden else ""
    return [
        f"The {hidden}sheet “{sheet.name}” ({n_of(sheet.height, 'row')}) has no headings that the mapping knows and was left out. "
        "If it holds data, tell the programme."
    ]
