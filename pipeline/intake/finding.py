"""Which way of writing fits each sheet of a file, and which sheets are meant to be data at all."""

from collections.abc import Mapping as MappingLike
from dataclasses import replace
from pathlib import Path

from pipeline.intake.form_marks import form_match, is_page
from pipeline.intake.given_back import match_of, origin_of
from pipeline.intake.match import Match, find_match, fits
from pipeline.intake.read import open_sheets
from pipeline.intake.sheet import TEXT, WORKBOOK, Sheet
from pipeline.intake.stated import NOTHING
from pipeline.intake.ways import Mapping, SheetMap
from schemas.kinds import Kind

Found = tuple[Sheet, Match | None, bool]


def find_sheets(path: Path, name: str, mapping: Mapping, kinds: MappingLike[str, Kind]) -> list[Found]:
    """Every sheet of a file with what fits it, and whether it is meant: see `_is_meant`.

    What the mapping says of encoding and dialect holds: its ways of writing are tried in their order, those that say
    the same of the file together. The first that fits is taken, and otherwise the file as we would read it.
    """
    file = Path(name).name
    usual = open_sheets(path, name)
    if any(origin_of(s.head) for s in usual if not s.unreadable):
        return [_given_back(s, file, mapping, kinds) for s in usual]
    if any(is_page(s.head) or form_match(s.head, kinds) for s in usual):
        return _of_form(usual, mapping, file, kinds)
    ways = [s for s in mapping.sheets if fits(file, s.files)]
    if usual[0].form == TEXT:
        for stated in dict.fromkeys(s.stated.dialect for s in ways if s.stated.dialect != NOTHING.dialect):
            these = tuple(s for s in ways if s.stated.dialect == stated)
            sheet = open_sheets(path, name, these[0].stated)[0]
            match = (
                None
                if sheet.unreadable
                else find_match(replace(mapping, sheets=these), file, sheet.head, kinds, sheet.name)
            )
            if match is not None and match.sheet in these:
                return [(sheet, match, True)]
    found = [(s, _usual(s, mapping, file, kinds)) for s in usual]
    any_fits = any(match for _, match in found)
    return [(s, match, match is not None or not any_fits or _is_meant(s, ways)) for s, match in found]


def _of_form(sheets: list[Sheet], mapping: Mapping, file: str, kinds: MappingLike[str, Kind]) -> list[Found]:
    """A blank sheet that was filled in: by its own word, and what its owner put beside it as usual. Our own pages are none."""
    ways = [s for s in mapping.sheets if fits(file, s.files)]
    found = []
    for sheet in sheets:
        page = is_page(sheet.head)
        match = None if page else form_match(sheet.head, kinds) or _usual(sheet, mapping, file, kinds)
        found.append((sheet, match, not page and (match is not None or _is_meant(sheet, ways))))
    return found


def _usual(sheet: Sheet, mapping: Mapping, file: str, kinds: MappingLike[str, Kind]) -> Match | None:
    return None if sheet.unreadable else find_match(_for(mapping, sheet), file, sheet.head, kinds, sheet.name)


def _given_back(sheet: Sheet, file: str, mapping: Mapping, kinds: MappingLike[str, Kind]) -> Found:
    """A sheet that went back to its partner is read as the one that it is of, under whatever name; others as ever."""
    origin = origin_of(sheet.head)
    if origin is None:
        match = _usual(sheet, mapping, file, kinds)
        return sheet, match, match is not None
    return sheet, match_of(origin, sheet.head, mapping, kinds), True


def _for(mapping: Mapping, sheet: Sheet) -> Mapping:
    """The mapping with only those ways of writing that may be meant for this sheet."""
    plain = sheet.form != TEXT
    here = (
        s for s in mapping.sheets
        if (not s.stated.sheets or fits(sheet.name, s.stated.sheets)) and (plain or s.stated.dialect == NOTHING.dialect)
    )  # fmt: skip
    return replace(mapping, sheets=tuple(here))


def _is_meant(sheet: Sheet, ways: list[SheetMap]) -> bool:
    """Whether a sheet that fits nothing, in a workbook of which another fits, looks like data: its rows are then held.

    It does when the mapping names it, or two of its headings (one, where there are only two) are known ones: most
    likely a heading was renamed. Anything else beside data is notes or pictures, left out and told of.
    """
    if sheet.form != WORKBOOK or any(s.stated.sheets and fits(sheet.name, s.stated.sheets) for s in ways):
        return True
    for row in sheet.head:
        cells = {c.strip() for c in row if c.strip()}
        if any(len(cells & s.headings()) >= min(2, len(s.headings()) - 1 or 1) for s in ways):
            return True
    return False
