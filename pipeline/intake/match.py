"""Which way of writing fits a sheet, and where its headings stand."""

import fnmatch
import re
from collections.abc import Iterable
from collections.abc import Mapping as MappingLike
from dataclasses import dataclass, replace

from pipeline.intake.ways import CELL, Mapping, PartMap, SheetMap, Wide
from schemas.kinds import Kind

HEADER_SOUGHT_IN = 30  # rows from the top of a sheet in which its headings are looked for
JOINT = " / "  # between headings of a column that take several rows

Head = list[list[str]]


@dataclass(frozen=True)
class Group:
    """Wide columns that speak of one thing: what their headings tell of it, and where the cell for a column of ours is."""

    told: MappingLike[str, str]
    cells: MappingLike[str, int]


@dataclass(frozen=True)
class Match:
    """Which way of writing fits a sheet, and where its headings stand (row number of the last, 1 is the sheet's first).

    given: our columns that the names of file and sheet, or the cells above the headings, tell.
    renamed: a heading of a blank sheet that is gone while another one stands there that the sheet never had.
    merged: places of the columns whose merged cells speak for every row they cover; unmerged: a name among those that the
             mapping gives for them that no column has.
    """

    sheet: SheetMap
    header_row: int
    header: tuple[str, ...]
    given: MappingLike[str, str]
    renamed: str = ""
    merged: tuple[int, ...] = ()
    unmerged: str = ""

    @property
    def twice(self) -> str:
        """A heading that is needed and stands over two columns, "" if there is none: nobody can tell which is meant."""
        groups = [g for p in self.sheet.parts if p.wide for g in wide_groups(self.sheet, p.wide, self.header).values()]
        wide = {self.header[at] for g in groups for at in g.cells.values()}
        return next((h for h in sorted(self.sheet.headings() | wide) if self.header.count(h) > 1), "")


def find_match(
    mapping: Mapping, file_name: str, head: Head, kinds: MappingLike[str, Kind], sheet_name: str = ""
) -> Match | None:
    """The first way of writing whose name patterns fit and whose headings all stand in one of the top rows.

    head: the sheet's first rows, as text. None when nothing fits: the whole drop is then held, and says so.
    """
    top = [[cell.strip() for cell in row] for row in head[: HEADER_SOUGHT_IN + 3]]
    for sheet in mapping.sheets:
        named = _named(sheet, file_name, sheet_name)
        if named is None:
            continue
        needed = sheet.headings()
        for at in range(min(len(top), HEADER_SOUGHT_IN)):
            rows = top[at : at + sheet.header_rows]
            header = _called(rows, sheet)
            if not needed <= set(header):
                continue
            above = {c: _beside(label, top[:at]) for c, label in sheet.above.items()}
            wides = [p.wide for p in sheet.parts if p.wide]
            if "" not in above.values() and all(wide_groups(sheet, w, header) for w in wides):
                spoken, unmerged = _merged(rows, header, sheet.stated.merged)
                given = {**named, **above}
                return Match(sheet, at + sheet.header_rows, header, given, merged=spoken, unmerged=unmerged)
    return _match_own_form(file_name, top[:HEADER_SOUGHT_IN], kinds)


def fits(name: str, patterns: Iterable[str]) -> bool:
    """Whether a name is one of these, or like one of these patterns (`*`, `?`), whatever its case."""
    low = name.casefold()
    return any(low == p.casefold() or fnmatch.fnmatchcase(low, p.casefold()) for p in patterns)


def _named(sheet: SheetMap, file_name: str, sheet_name: str) -> dict[str, str] | None:
    """What the names tell, None when they are not of this sort of sheet."""
    told: dict[str, str] = {}
    for name, patterns, regex in (
        (file_name, sheet.files, sheet.file_pattern),
        (sheet_name, sheet.stated.sheets or ("*",), sheet.sheet_pattern),
    ):
        if not fits(name, patterns):
            return None
        if regex:
            found = re.search(regex, name)
            if found is None:
                return None
            told |= {k: v.strip() for k, v in found.groupdict().items() if v}
    return told


def joint_header(rows: Head, once: bool = False) -> tuple[str, ...]:
    """One heading a column from the rows it takes: a cell merged over several columns stands over each of them.

    once: a heading merged downwards, which stands in each of its rows, is told once: “Date”, not “Date / Date”.
    """
    if len(rows) == 1:
        return tuple(rows[0])
    width = max(map(len, rows))
    padded = [[*r, *[""] * (width - len(r))] for r in rows]
    header = []
    for at in range(width):
        column = [r[at] for r in padded]
        last = max((n for n, c in enumerate(column) if c), default=0)
        for n in range(last):  # what is blank above something is merged with its left
            column[n] = column[n] or next((c for c in reversed(padded[n][:at]) if c), "")
        told = [c for c in column if c]
        header.append(JOINT.join(c for n, c in enumerate(told) if not once or told[n - 1 : n] != [c]))
    return tuple(header)


def _called(rows: Head, sheet: SheetMap) -> tuple[str, ...]:
    """The headings as the mapping calls them: it may tell one that is merged downwards once or for each of its rows."""
    header, short = joint_header(rows), joint_header(rows, once=True)
    needed, wides = sheet.headings(), [p.wide for p in sheet.parts if p.wide]
    also = {h for w in wides for h in (*w.headings, *w.but_not)}

    def meant(long: str, once: str) -> bool:
        if once in header:  # another column is called so outright
            return False
        return once in needed or (long not in needed | also and once in also)

    return tuple(b if a != b and meant(a, b) else a for a, b in zip(header, short, strict=True))


def _merged(rows: Head, header: tuple[str, ...], names: Iterable[str]) -> tuple[tuple[int, ...], str]:
    """The columns of these names, and the first name that none has. A column may be called by all of its rows or the lowest."""
    lowest = [*rows[-1], *[""] * len(header)]
    called = [
        {*forms} for forms in zip(header, joint_header(rows), joint_header(rows, once=True), lowest, strict=False)
    ]
    spoken = tuple(at for at, forms in enumerate(called) if forms & {*names})
    return spoken, next((n for n in names if not any(n in forms for forms in called)), "")


def _beside(label: str, above: Head) -> str:
    """The value told beside a label: behind it in its cell, or in the next filled cell of its row; "" if there is none."""
    said = label.rstrip(" :").casefold()
    for row in above:
        for at, cell in enumerate(row):
            rest = cell[len(said) :].lstrip(" :") if cell.casefold().startswith(said) else None
            if rest:
                return rest
            if rest == "":
                return next((c for c in row[at + 1 :] if c), "")
    return ""


# --- wide columns -------------------------------------------------------------------------------------------


def wide_groups(sheet: SheetMap, wide: Wide, header: tuple[str, ...]) -> dict[int, Group]:
    """The wide columns, those that speak of one thing together, by the place of the first, in the sheet's order."""
    elsewhere, pattern = sheet.headings(), re.compile(wide.pattern)
    sorts = {w.casefold(): c for w, c in wide.cells.items()}
    found: dict[tuple[str, ...], tuple[dict[str, str], dict[str, int]]] = {}
    for at, heading in enumerate(header):
        told = pattern.fullmatch(heading) if heading and heading not in elsewhere else None
        if told is None or not fits(heading, wide.headings) or fits(heading, wide.but_not):
            continue
        words = {k: (v or "").strip() for k, v in told.groupdict().items()}
        column = sorts.get(words.pop(CELL, "").casefold())
        if column is None:
            continue
        key = tuple(words.values())
        if key in found and column in found[key][1]:  # told twice: the judge holds what differs
            key = (*key, str(at))
        found.setdefault(key, (words, {}))[1][column] = at
    return {min(cells.values()): Group(words, cells) for words, cells in found.values()}


# --- our own headings ---------------------------------------------------------------------------------------


def own_form(kind: Kind) -> SheetMap:
    """A sheet that uses our own column names needs no mapping."""
    part = PartMap(kind.name, {c.name: c.name for c in kind.columns}, {}, {}, {})
    return SheetMap((f"{kind.name}*",), ".", "", "YMD", "", (), (part,))


def _match_own_form(file_name: str, top: Head, kinds: MappingLike[str, Kind]) -> Match | None:
    for at, row in enumerate(top):
        cells = {c for c in row if c}
        fits = [k for k in kinds.values() if len(cells) > 1 and cells <= {c.name for c in k.columns}]
        named = [k for k in fits if file_name.casefold().startswith(k.name)]
        if named or len(fits) == 1:
            kind = (named or fits)[0]
            sheet = own_form(kind)
            here = PartMap(kind.name, {c: c for c in sheet.parts[0].headings if c in cells}, {}, {}, {})
            return Match(replace(sheet, parts=(here,)), at + 1, tuple(row), {})
    return None
