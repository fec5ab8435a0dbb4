"""The nouns of reading: a sheet before its rows are read, what became of its lines, which rows cannot be trusted."""

from dataclasses import dataclass, field
from pathlib import Path

TEXT, PARQUET, WORKBOOK = "text", "parquet", "workbook"
HEAD = 40  # rows of a sheet's top that are looked at before it is read


class Unreadable(ValueError):
    """A file, or one of its sheets, is no table that can be read; the message says why, as the end of a sentence."""


@dataclass(frozen=True)
class Sheet:
    """A sheet before its rows are read.

    head      its first rows as text, to find the headings in; blank rows are empty lists.
    form      text, parquet or workbook.
    native    whether cells come typed (Parquet): then numbers and dates are written our way whatever the mapping says.
              A workbook's are too, but it holds texts as well: its typed numbers are written the partner's way instead.
    quote, escape  which mark holds a text together ("" for none), and which stands before a mark that does not.
    why       what was taken for granted about the file and why, a sentence each: for whoever confirms a mapping.
    lossy     whether bytes stand in it that are not of its encoding; they are read as U+FFFD.
    guessed   whether its encoding is only likely.
    doubtful  whether some cell may hold letters that could not be read, or an error of a spreadsheet.
    number, height, width, hidden, merged, unworked   of a sheet in a workbook: its place, its size, whether it is hidden,
              its merged cells as (first row, first column, last row, last column), rows from 1 and columns from 0, and
              where formulas stand whose value was never saved (row, column).
    """

    name: str
    path: Path
    head: list[list[str]]
    encoding: str = ""
    delimiter: str = ""
    native: bool = False
    unreadable: str = ""
    form: str = TEXT
    quote: str = '"'
    escape: str = ""
    why: tuple[str, ...] = ()
    doubtful: bool = False
    lossy: bool = False
    guessed: bool = False
    number: int = 0
    height: int = 0
    width: int = 0
    hidden: bool = False
    merged: tuple[tuple[int, int, int, int], ...] = ()
    unworked: tuple[tuple[int, int], ...] = ()

    @property
    def has_header_row(self) -> bool:
        """Whether headings are a row of the sheet: in Parquet they are none, and the first record is row 1."""
        return self.form != PARQUET


@dataclass(frozen=True)
class Spoiled:
    """Why a row cannot be trusted as it was read. column: the place of the one cell meant, None for the whole row."""

    row: int
    column: int | None
    code: str
    found: str
    wanted: str
    advice: str


@dataclass
class Tally:
    """What became of a sheet's lines: lines = furniture + blank + records.

    too_long  rows with more filled cells than there are headings.
    spoiled   cells and rows that were read but are not what their owner meant.
    left_out  rows among or below the data that are furniture: row, what it is.
    left_blank  given rows of a blank sheet in which nothing was filled in: they are records that say nothing.
    """

    furniture: int = 0
    blank: int = 0
    records: int = 0
    too_long: list[int] = field(default_factory=list)
    spoiled: list[Spoiled] = field(default_factory=list)
    left_out: list[tuple[int, str]] = field(default_factory=list)
    left_blank: list[int] = field(default_factory=list)

    @property
    def lines(self) -> int:
        """All of them."""
        return self.furniture + self.blank + self.records

    def noted(self) -> "Tally":
        """What is noted on rows that are not dealt with yet, to be looked at while reading goes on."""
        return Tally(too_long=list(self.too_long), spoiled=list(self.spoiled))

    def forget(self, row: int) -> None:
        """Drop what was noted on rows up to that one, once they are dealt with: a big file may have many."""
        self.too_long = [r for r in self.too_long if r > row]
        self.spoiled = [s for s in self.spoiled if s.row > row]
