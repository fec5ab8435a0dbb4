"""Every held row of a drop as a list that a spreadsheet opens, in the language of the letter that it stands beside."""

import csv
import io
from collections.abc import Sequence

from pipeline.faults import Fault
from pipeline.outputs.tables import plain_cell
from pipeline.outputs.words import Post
from schemas.kinds import all_kinds


def list_of(faults: Sequence[Fault], _: Post) -> bytes:
    """A line for each fault, headings first. With a byte-order mark, and with a semicolon where numbers are written with a comma:
    so spreadsheets of that language part the cells and keep the letters."""
    text = io.StringIO()
    writer = csv.writer(text, delimiter="," if _.language == "en" else ";", lineterminator="\n")
    writer.writerow(
        [_("Sheet"), _("Row"), _("Kind"), _("Column"), _("Sort of fault"), _("Found"), _("Wanted"), _("What to do")]
    )
    for f in faults:
        kind = all_kinds().get(f.kind)
        title = next((c.title for c in (kind.columns if kind else ()) if c.name == f.column), f.column)
        told = (f.sheet, f.row, _.again(f.kind), f.heading or _.title(title), _.again(f.code))
        found = f.found if f.column else _.again(f.found)
        writer.writerow([plain_cell(c) for c in (*told, found, _.again(f.wanted), _.again(f.advice))])
    return text.getvalue().encode("utf-8-sig")
