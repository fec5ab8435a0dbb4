"""How a held row is named on a sheet that goes back to its partner, so that it is known again under any file name.

One heading of such a sheet says of which file and sheet it is, and each row holds the id of a held row. Both are plain
text, which every spreadsheet program keeps, as a workbook or as CSV.
"""

import re
from typing import NamedTuple

OURS = "wrackline"  # how headings begin that are no column of the partner's
_MARK = f"{OURS} held id: "
_HEADING = re.compile(re.escape(_MARK) + r"(?P<file>.*?)(?: \[\[(?P<sheet>.*)\]\])?", re.DOTALL)
_ID = re.compile(r"held (?P<entry>\d{1,12})/(?:(?P<sheet>.*)/)?(?P<row>\d{1,12})", re.DOTALL)


class HeldId(NamedTuple):
    """A held row: receipt, sheet, row."""

    entry: int
    sheet: str
    row: int


def heading_of(file: str, sheet: str) -> str:
    """The heading above the ids: of which file, and of which sheet of it."""
    return f"{_MARK}{file}" + (f" [[{sheet}]]" if sheet else "")


def told_by(heading: str) -> tuple[str, str] | None:
    """File and sheet that such a heading names; None when it is another one."""
    found = _HEADING.fullmatch(heading.strip())
    return (found["file"], found["sheet"] or "") if found else None


def is_ours(heading: str) -> bool:
    """Whether a column holds what we wrote beside the partner's own."""
    return heading.strip().casefold().startswith(f"{OURS} ")


def text_of(held: HeldId) -> str:
    """The id as it stands in a cell: never to be taken for a number or a day."""
    return f"held {held.entry}/" + (f"{held.sheet}/" if held.sheet else "") + str(held.row)


def read_id(text: str) -> HeldId | None:
    """The id that a cell holds; None when it is none."""
    found = _ID.fullmatch(text.strip())
    return HeldId(int(found["entry"]), found["sheet"] or "", int(found["row"])) if found else None
