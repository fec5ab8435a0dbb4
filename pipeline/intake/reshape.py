"""A sheet's rows as its mapping shapes them, before anything is cast: blanks filled down, cells joined, wide turned long.

What is made has a heading of its own that no sheet can have (`HIDDEN` and our column's name), so that the cast reads it
like any other; `Shape.told` puts the partner's own headings into a fault's words again.

What a row yields of one kind are lines, numbered row * width + place, where the place is that of the (first) wide column.
Row and part come out of a line again, so no part's number depends on what else the sheet holds.
"""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import duckdb
import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from pipeline.faults import Fault
from pipeline.intake.days import CENTURY
from pipeline.intake.match import Group, Match, wide_groups
from pipeline.intake.ways import BLANKS, PartMap, SheetMap, Wide
from schemas.kinds import Kind

HIDDEN = "\0"  # the reader takes this out of every cell
TWICE = re.compile(r"(“[^”]*”)(?:, \1)+")  # two columns of ours that come from one cell
LINES = 100_000  # so many lines are read at a time, or memory would follow the width of a sheet


@dataclass(frozen=True)
class Shape:
    """One part of a sheet's rows, shaped.

    part, header   as the cast is to read them: `header` names c0, c1 ... of table `cells`.
    first, width   a line is row * width + place; its part number is first + place.
    days           our columns that hold days or times.
    shown          hidden heading -> what its owner sees, for cells that were joined.
    groups         the wide columns by the place of their first.
    """

    part: PartMap
    header: tuple[str, ...]
    first: int
    days: frozenset[str]
    shown: Mapping[str, str]
    width: int = 1
    groups: Mapping[int, Group] = field(default_factory=dict)

    @property
    def sometimes(self) -> bool:
        """Whether a row may yield none of it without having been said to mean nothing."""
        wide = self.part.wide
        return bool(self.part.only_if) or (wide is not None and wide.blank == BLANKS[0])

    @property
    def asks(self) -> str:
        """The cells of which one must be filled for a row to yield it."""
        if self.part.only_if:
            words = " or ".join(f"“{w}”" for w in self.part.only_words)
            return f"“{self.part.only_if}”" + (f" ({words})" if words else "")
        first, last = self.header[min(self.groups)], self.header[max(self.groups)]
        return f"the columns “{first}” to “{last}”" if first != last else f"“{first}”"

    def reads(self) -> dict[int, tuple[str, str, set[int]]]:
        """Place in the sheet -> our column that its cell feeds, the heading it has here, the wide places (none: all)."""
        at = {h: i for i, h in reversed(list(enumerate(self.header)))}
        found = {
            at[h]: (c, h, set[int]()) for c, h in self.part.headings.items() if h in at and not h.startswith(HIDDEN)
        }
        found |= {at[h]: (c, HIDDEN + c, set()) for c, several in self.part.joins.items() for h in several}
        cells = ((at, c, place) for place, g in self.groups.items() for c, at in g.cells.items())
        return found | {i: (c, HIDDEN + c, {place}) for i, c, place in cells}

    def places(self, lines: pa.ChunkedArray) -> tuple[pa.Array, pa.Array]:
        """The row and the part of each line."""
        row, place = np.divmod(lines.to_numpy(), self.width)
        return pa.array(row, pa.int64()), pa.array(place + self.first, pa.int32())

    def told(self, fault: Fault) -> Fault:
        """The fault of a line, with the row, the part, the heading and the words that the sheet's owner sees."""
        row, place = divmod(fault.row, self.width)
        shown = dict(self.shown)
        if self.part.wide:
            cells = self.groups[place].cells
            shown |= {HIDDEN + c: self.header[cells.get(c, place)] for c in self.part.wide.columns()}
        texts = [fault.heading, fault.wanted, fault.advice]
        for hidden, heading in shown.items():
            texts = [t.replace(hidden, heading) for t in texts]
        texts[2] = TWICE.sub(r"\1", texts[2])
        return replace(fault, row=row, part=self.first + place, heading=texts[0], wanted=texts[1], advice=texts[2])


def hidden(shape: Shape, column: str) -> tuple[Shape, str]:
    """A shape in which a column of ours has a column of `cells` of its own, to be overwritten, and what that is called."""
    heading, own = shape.part.headings.get(column, ""), HIDDEN + column
    if heading == own:
        return shape, f"c{shape.header.index(own)}"
    joins = {**shape.part.joins, **({column: (heading,)} if heading else {})}
    fixed = {c: text for c, text in shape.part.fixed.items() if c != column}
    part = replace(shape.part, headings={**shape.part.headings, column: own}, joins=joins, fixed=fixed)
    made = replace(shape, part=part, header=(*shape.header, own), shown={**shape.shown, own: heading})
    return made, f"c{len(shape.header)}"


def source(shape: Shape, column: str) -> tuple[str, str] | None:
    """Where a column's text stands: ("cell", column of `cells`) or ("fixed", text of all rows); None: nowhere."""
    heading = shape.part.headings.get(column)
    if heading is not None and heading in shape.header:
        return "cell", f"c{shape.header.index(heading)}"
    return ("fixed", shape.part.fixed[column]) if column in shape.part.fixed else None


def texts_of(cells: pa.Table, found: tuple[str, str] | None) -> pa.Array:
    """The texts that stand there, "" where nothing does; a dictionary array where the cells are one."""
    sort, text = found or ("fixed", "")
    if sort == "fixed":
        return pa.repeat(pa.scalar(text), cells.num_rows)
    whole = cells.column(text).combine_chunks()
    return whole if pa.types.is_dictionary(whole.type) else pc.fill_null(whole, "")


def shapes_of(match: Match, kinds: Mapping[str, Kind]) -> list[Shape]:
    """Every part of the sheet, numbered in the order of the mapping and, within it, of the sheet's own columns."""
    made, first = [], 1
    for written in match.sheet.parts:
        kind, wide = kinds[written.kind], written.wide
        own = {*written.headings, *written.joins, *(wide.columns() if wide else ())}
        given = {c.name: match.given[c.name] for c in kind.columns if c.name in match.given and c.name not in own}
        hidden = {HIDDEN + c: ", ".join(several) for c, several in written.joins.items()}
        part = replace(
            written,
            fixed={**written.fixed, **given},
            headings={**written.headings, **{h.removeprefix(HIDDEN): h for h in hidden}},
        )
        days = frozenset(c.name for c in kind.columns if c.type in ("day", "instant"))
        shape = Shape(part, (*match.header, *hidden), first, days, hidden)
        shape = _widened(shape, wide, match) if wide else shape
        made.append(shape)
        first += shape.width
    return made


def _widened(shape: Shape, wide: Wide, match: Match) -> Shape:
    made = {c: HIDDEN + c for c in (*wide.told, *wide.filled)}
    return replace(
        shape,
        part=replace(shape.part, headings={**shape.part.headings, **made}),
        header=(*shape.header, *made.values()),
        width=len(match.header),
        groups=wide_groups(match.sheet, wide, match.header),
    )


# --- cells --------------------------------------------------------------------------------------------------


class FillDown:
    """Fills blank cells from the row above, from one batch of rows to the next."""

    def __init__(self, sheet: SheetMap, header: Sequence[str]) -> None:
        self.last = {f"c{header.index(h)}": "" for h in sheet.fill_down}

    def __call__(self, con: duckdb.DuckDBPyConnection, table: pa.Table) -> pa.Table:
        """The same rows (trimmed), each blank cell of those columns as the filled one above it."""
        if not self.last or not table.num_rows:
            return table
        con.register("unfilled", table)
        above = ", ".join(
            f"coalesce(last_value(nullif({c}, '') ignore nulls) over (order by row), ${c}) as {c}" for c in self.last
        )
        made = con.sql(f"select * replace ({above}) from unfilled order by row", params=self.last).to_arrow_table()
        con.unregister("unfilled")
        self.last = {c: made.column(c)[-1].as_py() for c in self.last}
        return made


def rows_at_once(shapes: Sequence[Shape]) -> int:
    """How many rows may be turned long together."""
    return max(1, LINES // max((len(s.groups) for s in shapes), default=1)) if any(s.groups for s in shapes) else LINES


def lines_of(con: duckdb.DuckDBPyConnection, table: pa.Table, shape: Shape, blanks: Sequence[str]) -> pa.Table:
    """The cells as the cast reads them: `row` is the line, then the columns that `shape.header` names.

    table: the sheet's rows, trimmed and filled down. blanks: the partner's words for a blank cell.
    """
    part, wide = shape.part, shape.part.wide
    if not (wide or part.joins or part.only_words):
        return table
    query = _joined(shape, blanks)
    if wide:
        con.register("wide", _headings_table(shape, wide))
        query = _long(query, shape, wide, blanks)
    con.register("read_rows", table)
    made = con.sql(query).to_arrow_table()
    con.unregister("read_rows")
    if wide:
        con.unregister("wide")
    return made


def _joined(shape: Shape, blanks: Sequence[str]) -> str:
    """The rows that the part speaks of, and the cells it joins."""
    part, place = shape.part, _places(shape)
    made = []
    for column, several in part.joins.items():
        pieces = [_unblank(place[h], blanks) for h in several]
        dated = column in shape.days and len(several) > 2
        made.append(f"{_dated(pieces) if dated else _beside(pieces)} as {place[HIDDEN + column]}")
    where = f"where lower({place[part.only_if]}) in ({_texts(part.only_words)})" if part.only_words else ""
    kept = {place[h]: None for h in part.needs() if not h.startswith(HIDDEN)}
    kept |= {f"c{at}": None for group in shape.groups.values() for at in group.cells.values()}
    return f"select {', '.join(['row', *kept, *made])} from read_rows {where}"


def _places(shape: Shape) -> dict[str, str]:
    """Heading -> the column of `cells`; of two equal ones the first, as everywhere."""
    return {h: f"c{i}" for i, h in reversed(list(enumerate(shape.header)))}


def _beside(pieces: Sequence[str]) -> str:
    return "concat_ws(' ', " + ", ".join(f"nullif({p}, '')" for p in pieces) + ")"


def _dated(pieces: Sequence[str]) -> str:
    """Year, month, day and perhaps a time, as one text: 2025-4-18 09:30; a day with a month's name as 18 April 2025."""
    year, month, day = (f"regexp_replace({p}, '\\.0+$', '')" for p in pieces[:3])
    short = f"case when cast({year} as int) < {CENTURY} then '20' else '19' end || {year}"
    year = f"case when regexp_full_match({year}, '\\d\\d') then {short} else {year} end"
    numbers = f"concat({year}, '-', coalesce(nullif({month}, ''), '?'), '-', coalesce(nullif({day}, ''), '?'))"
    named = f"concat({day}, ' ', {month}, ' ', {year})"
    text = f"case when regexp_matches({month}, '^[^\\d]') then {named} else {numbers} end"
    time = f" || concat(' ', nullif({pieces[3]}, ''))" if len(pieces) > 3 else ""
    blank = " and ".join(f"{p} = ''" for p in pieces)
    return f"case when {blank} then '' else rtrim({text}{time}) end"


def _long(rows: str, shape: Shape, wide: Wide, blanks: Sequence[str]) -> str:
    """The rows turned long: a line for every wide column, or group of them, that says something."""
    place, columns = _places(shape), wide.filled
    kept = list(dict.fromkeys(place[h] for h in shape.part.headings.values() if h in place and h not in _made(wide)))
    kept += [place[shape.part.only_if]] if shape.part.only_if and place[shape.part.only_if] not in kept else []
    lists = [
        "[" + ", ".join(f"c{g.cells[c]}" if c in g.cells else "null" for g in shape.groups.values()) + "]"
        for c in columns
    ]
    every = "[" + ", ".join(f"c{at}" for g in shape.groups.values() for at in g.cells.values()) + "]"
    silent = f"(x = '' or lower(x) in ({_texts(blanks)}))" if blanks else "(x = '')"
    others = f"len(list_filter({every}, lambda x: not {silent})) > 0" if wide.blank == BLANKS[2] else "true"
    spread = ", ".join([f"unnest([{', '.join(map(str, shape.groups))}]) as place"]
                       + [f"unnest({cells}) as v{n}" for n, cells in enumerate(lists)])  # fmt: skip
    said = ", ".join(f"{_said(f'v{n}', wide, blanks)} as s{n}" for n in range(len(columns)))
    told = ", ".join(
        [f"t{n} as {place[HIDDEN + c]}" for n, c in enumerate(wide.told)]
        + [f"coalesce(s{n}, '') as {place[HIDDEN + c]}" for n, c in enumerate(columns)]
    )
    anything = " or ".join(f"s{n} is not null" for n in range(len(columns)))
    carried = ", ".join(["row", *kept])
    return f"""
        select row * {shape.width} + place as row, {", ".join([*kept, told])}
        from (select {carried}, place, {said} from (select {carried}, {others} as others, {spread} from ({rows}))) s
        join wide using (place)
        where {anything}
        order by row"""


def _made(wide: Wide) -> set[str]:
    return {HIDDEN + c for c in wide.columns()}


def _said(cell: str, wide: Wide, blanks: Sequence[str]) -> str:
    """What a wide cell says, in the words of the cast: '' is not counted, null is nothing at all."""
    by_blank = {"not written": "null", "zero": "'0'", "zero beside others": "case when others then '0' end"}
    blank = by_blank.get(wide.blank, "''")
    whens = [f"when {cell} is null then null"]
    whens += [f"when lower({cell}) in ({_texts(wide.zero)}) then '0'"] if wide.zero else []
    whens += [f"when lower({cell}) in ({_texts(wide.not_counted)}) then ''"] if wide.not_counted else []
    whens += [f"when lower({cell}) in ({_texts(['', *blanks])}) then {blank}"]
    return f"case {' '.join(whens)} else {cell} end"


def _headings_table(shape: Shape, wide: Wide) -> pa.Table:
    """Place of a wide column, and what its heading says of each of our columns: t0, t1 ..."""
    told = {f"t{n}": [g.told[c] for g in shape.groups.values()] for n, c in enumerate(wide.told)}
    columns = {name: pa.array(texts, pa.string()) for name, texts in told.items()}
    return pa.table({"place": pa.array(list(shape.groups), pa.int64()), **columns})


def _unblank(cell: str, blanks: Sequence[str]) -> str:
    return f"(case when lower({cell}) in ({_texts(blanks)}) then '' else {cell} end)" if blanks else cell


def _texts(words: Sequence[str]) -> str:
    return ", ".join("'" + w.lower().replace("'", "''") + "'" for w in words)
