"""Ways of writing, as frozen values: what a partner's TOML says of its sheets. Nothing here reads or casts."""

import hashlib
import re
from collections.abc import Mapping as MappingLike
from dataclasses import dataclass, field

from pipeline.intake.placing import PLAIN, Position
from pipeline.intake.stated import NOTHING, Stated

# What a blank cell of a wide sheet says. "zero beside others": zero, unless the whole row is blank: then nobody counted.
BLANKS = ("not written", "zero", "zero beside others", "not counted")
OPEN = "?"  # stands in a suggested mapping where nobody knows yet
CELL, GROUP = "cell", "group"  # names a pattern may use beside our columns


@dataclass(frozen=True)
class Wide:
    """Columns of a sheet that say one thing each: a column for each species, stage, bag, frame or day.

    headings, but_not  patterns of the headings of those columns; none that the sheet names elsewhere is one.
    pattern   a regular expression over the heading. Its named groups are our columns, filled by their text; `cell` is the
              word that tells which of `cells` stands there, `group` only keeps columns together (“Bag 1”, “State 1”).
    cells     word of `cell` -> our column that the cell fills; {"": column} when every such column says the same.
    blank     what a blank cell says, one of BLANKS.
    zero, not_counted  words that say: looked for and none there; not looked for.
    """

    headings: tuple[str, ...]
    but_not: tuple[str, ...]
    pattern: str
    cells: MappingLike[str, str]
    blank: str = BLANKS[0]
    zero: tuple[str, ...] = ()
    not_counted: tuple[str, ...] = ()

    @property
    def told(self) -> tuple[str, ...]:
        """Our columns that the heading's own text fills."""
        return tuple(g for g in re.compile(self.pattern).groupindex if g not in (CELL, GROUP))

    @property
    def filled(self) -> tuple[str, ...]:
        """Our columns that the cells fill."""
        return tuple(dict.fromkeys(self.cells.values()))

    def columns(self) -> set[str]:
        """Every column of ours that comes from here."""
        return {*self.told, *self.cells.values()}


@dataclass(frozen=True)
class PartMap:
    """What one row yields of one kind. Keys of all tables are our columns.

    joins     our column -> headings whose cells are joined: year, month and day, or a day and a time, or words.
    only_if   the heading of a cell that must be filled; only_words: with one of these, if there are any.
    """

    kind: str
    headings: MappingLike[str, str]
    units: MappingLike[str, str]
    codes: MappingLike[str, MappingLike[str, str]]
    fixed: MappingLike[str, str]
    only_if: str = ""
    only_words: tuple[str, ...] = ()
    joins: MappingLike[str, tuple[str, ...]] = field(default_factory=dict)
    wide: Wide | None = None
    position: Position = PLAIN

    def unit_of(self, column: str, declared: str) -> str:
        """Our unit of a column: the declared one, or what the part says stands beside a column that may hold any."""
        return declared or (self.fixed.get("unit", "") if column == "value" else "")

    def needs(self) -> list[str]:
        """Every heading that it names, in order."""
        joined = [h for several in self.joins.values() for h in several]
        return [*self.headings.values(), *joined, *([self.only_if] if self.only_if else [])]


@dataclass(frozen=True)
class SheetMap:
    """How one sort of sheet is written. `files` are patterns of names; `dates` is DMY, MDY or YMD.

    stated        what the mapping says of how such a file is read.
    file_pattern, sheet_pattern  regular expressions whose named groups are our columns, filled from the name.
    above         our column -> the label of a cell above the headings, whose value stands behind or beside it.
    fill_down     headings whose blank cells mean: as in the row above.
    header_rows   how many rows the headings take; those of a column are joined by “ / ”.
    confirmed     whether a person has said that this is right; nothing enters before.
    number, boxes of a blank sheet of ours that was filled in: the heading of the numbers of its given rows, and the
                  headings of which one must be filled for a given row to say anything.
    """

    files: tuple[str, ...]
    decimal: str
    thousands: str
    dates: str
    timezone: str
    blanks: tuple[str, ...]
    parts: tuple[PartMap, ...]
    stated: Stated = NOTHING
    file_pattern: str = ""
    sheet_pattern: str = ""
    above: MappingLike[str, str] = field(default_factory=dict)
    fill_down: tuple[str, ...] = ()
    header_rows: int = 1
    confirmed: bool = True
    number: str = ""
    boxes: tuple[str, ...] = ()

    def headings(self) -> set[str]:
        """Every heading that the sheet must have."""
        return {h for p in self.parts for h in p.needs()} | set(self.fill_down)


@dataclass(frozen=True)
class Mapping:
    """A partner's mapping; without a file it knows only our own headings."""

    partner: str
    language: str = "en"
    sheets: tuple[SheetMap, ...] = ()
    raw: bytes = field(default=b"", repr=False)

    @property
    def hash(self) -> str:
        """SHA-256 of the file's bytes: work is keyed by it."""
        return hashlib.sha256(self.raw).hexdigest()
