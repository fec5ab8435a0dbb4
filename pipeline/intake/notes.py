"""What a partner should know about how its file was read, a sentence each. Most files need none."""

from itertools import groupby

from pipeline.intake.encoding import NAMES
from pipeline.intake.form_marks import is_page
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
        notes.append(f"{where}{_listed([row for row, _ in group])} left out: {what}.")
    if tally.left_blank:
        many = n_of(len(tally.left_blank), "given row")
        notes.append(f"{where}{many} left blank, so nothing is told there: {_listed(tally.left_blank)}.")
    if sheet.guessed:
        name = NAMES.get(sheet.encoding, sheet.encoding)
        notes.append(f"Its letters were read as {name}. If names look wrong, save it as UTF-8 and hand it in again.")
    return notes


def _listed(rows: list[int]) -> str:
    listed = ", ".join(map(str, rows[:LISTED])) + (f" and {len(rows) - LISTED} more" if len(rows) > LISTED else "")
    return f"{'row' if len(rows) == 1 else 'rows'} {listed}"


def left_out(sheet: Sheet) -> list[str]:
    """That a sheet was left out as a whole, unless it is a page of ours beside a blank sheet."""
    if is_page(sheet.head):
        return []
    hidden = "hidden " if sheet.hidden else ""
    return [
        f"The {hidden}sheet “{sheet.name}” ({n_of(sheet.height, 'row')}) has no headings that the mapping knows and was left out. "
        "If it holds data, tell the programme."
    ]
