"""Sheets that went back to their partner with a column of reasons, coming in again: read as the file they are of."""

from collections.abc import Mapping as MappingLike
from dataclasses import dataclass, replace

import pyarrow as pa
import pyarrow.compute as pc

from pipeline.held_ids import is_ours, told_by
from pipeline.intake.form_marks import form_match
from pipeline.intake.match import Head, Match, find_match, fits
from pipeline.intake.stated import NOTHING
from pipeline.intake.ways import Mapping
from schemas.kinds import Kind

SOUGHT_IN = 40  # rows from the top


@dataclass(frozen=True)
class Origin:
    """Of which file and sheet a sheet is that was given back.

    at      row number of its headings.  ids: the place of the column of ids.  ours: places of all columns that we wrote.
    """

    file: str
    sheet: str
    at: int
    ids: int
    ours: tuple[int, ...]

    def strip(self, table: pa.Table) -> tuple[pa.Table, pa.Table]:
        """The rows with our own cells blanked, without those that hold nothing else; and row and id of those with one.

        table: `row`, c0, c1, ... A row that its owner emptied says nothing: what was held of it stays so.
        """
        blank = pa.array([""] * table.num_rows, pa.string())
        named = pc.utf8_trim_whitespace(table.column(f"c{self.ids}"))
        filled = pa.chunked_array([pa.array([False] * table.num_rows)])
        for place, name in enumerate(table.column_names[1:]):
            if place in self.ours:
                table = table.set_column(place + 1, name, blank)
            else:
                filled = pc.or_(filled, pc.not_equal(pc.utf8_trim_whitespace(table.column(name)), ""))
        told = pa.table({"row": table.column("row"), "told": named})
        return table.filter(filled), told.filter(pc.and_(filled, pc.not_equal(named, "")))


def origin_of(head: Head) -> Origin | None:
    """What the sheet's top tells of its origin; None when it was not given back."""
    for at, row in enumerate(head[:SOUGHT_IN], 1):
        for place, cell in enumerate(row):
            told = told_by(cell)
            if told:
                return Origin(*told, at, place, tuple(n for n, c in enumerate(row) if is_ours(c)))
    return None


def match_of(origin: Origin, head: Head, mapping: Mapping, kinds: MappingLike[str, Kind]) -> Match | None:
    """How it is read: as its file was. Each heading stands in one row, no cell means “as above”, and no row is of units.

    Of a blank sheet that was filled in, its own line went back with it and says so.
    """
    top = [["" if n in origin.ours else c for n, c in enumerate(row)] for row in head[: origin.at]]
    form = form_match(top, kinds)
    if form is not None:
        return form
    ways = tuple(
        replace(s, header_rows=1, fill_down=(), stated=replace(NOTHING, unit_row=False, sheets=s.stated.sheets))
        for s in mapping.sheets
        if not s.stated.sheets or fits(origin.sheet, s.stated.sheets)
    )
    return find_match(replace(mapping, sheets=ways), origin.file, top, kinds, origin.sheet)
