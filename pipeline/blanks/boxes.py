"""What a blank workbook is made of: frozen values that the joiner fills from the kinds, the mapping and the registers."""

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal

Cell = str | int | Decimal | dt.date | None


@dataclass(frozen=True)
class Box:
    """One column of a blank sheet.

    heading   as its owner writes it.
    sort      text, whole, decimal, day, instant or yesno; "" for what only tells something.
    needed    whether every row needs it.
    wanted    one sentence on what is meant, in the owner's language; "" where there is none.
    unit      as its owner writes it.
    least, most, above   limits of a number: at least, at most, more than.
    words     the only words that may stand in it, as its owner writes them.
    offered   the list it is chosen from, where other words may stand in it too; `of`: its list is that of the place in
              the column with that heading.
    rough     whether a number may also be written as a bound or roughly, such as “about 20”.
    future    whether a day to come may stand in it.
    example   what may stand in it.
    """

    heading: str
    sort: str = "text"
    needed: bool = False
    wanted: str = ""
    unit: str = ""
    least: Decimal | None = None
    most: Decimal | None = None
    above: Decimal | None = None
    words: tuple[str, ...] = ()
    offered: str = ""
    of: str = ""
    rough: bool = False
    future: bool = False
    example: Cell = None


@dataclass(frozen=True)
class Sheet:
    """One blank sheet.

    name, title  on its tab and above it.
    mark         the line by which it is read when it comes back.
    rows         given rows: heading -> what stands in it already. Below them rows stay blank.
    once         headings of cells that are written once above the table and followed by every given row.
    dates        in which order days are written in it.
    """

    name: str
    title: str
    mark: str
    boxes: tuple[Box, ...]
    rows: tuple[Mapping[str, Cell], ...] = ()
    once: tuple[str, ...] = ()
    dates: str = "YMD"


@dataclass(frozen=True)
class Lists:
    """What boxes are chosen from: a name -> words; and, of lists that depend on a place, (place, word) pairs in order."""

    plain: Mapping[str, Sequence[str]] = field(default_factory=dict)
    by_place: Mapping[str, Sequence[tuple[str, str]]] = field(default_factory=dict)


@dataclass(frozen=True)
class Book:
    """One workbook: its sheets, its lists, and what its page of instructions tells.

    places    sites by code and name, as its owner writes them.
    as_of     the day on which the last of what the lists hold was handed in, None before anything was.
    """

    programme: str
    partner: str
    sheets: tuple[Sheet, ...]
    lists: Lists
    places: Sequence[tuple[str, str]] = ()
    as_of: dt.date | None = None
    visit: str = ""
