"""The held rows of a drop, gathered for the workbook that goes back to its partner. Joins the ledger, intake and outputs."""

from collections import defaultdict
from collections.abc import Mapping as MappingLike
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

import pyarrow as pa

from pipeline.differing import Difference, headed
from pipeline.engine import connection
from pipeline.faults import Fault
from pipeline.held_ids import HeldId, is_ours, told_by
from pipeline.intake.finding import find_sheets
from pipeline.intake.form_marks import mark_row, told_in
from pipeline.intake.given_back import Origin, match_of
from pipeline.intake.match import Match
from pipeline.intake.reshape import FillDown
from pipeline.intake.ways import Mapping
from pipeline.ledger.entry import Entry, SheetRead
from pipeline.ledger.records import rows_of
from pipeline.outputs.given_back import HeldRow, HeldSheet, writable
from pipeline.spoken import own_words
from pipeline.unsettled import Waiting
from schemas.kinds import Kind

MOST_ROWS = 5_000  # of one workbook; whoever has more held rows has one cause, and mends its own sheet
MOST_READ = 500_000  # rows of a drop from which held ones are picked
NOT_MENDED_HERE = {"no mapping", "mapping not confirmed", "amends much", "erased"}  # no cell of such a row is at fault


@dataclass(frozen=True)
class GivenBack:
    """The sheets that go back, and how many held rows are not on them.

    differing: what held rows say otherwise than others, under the partner's own headings. theirs: its words for ours.
    """

    sheets: Sequence[HeldSheet]
    left_out: int
    differing: Sequence[Difference] = ()
    theirs: MappingLike[tuple[str, str], MappingLike[str, str]] = field(default_factory=dict)


def held_back(
    entry: Entry, drop: Path, segments: MappingLike[str, Path], faults: Sequence[Fault], mapping: Mapping,
    kinds: MappingLike[str, Kind], differing: Sequence[Difference] = (), still: Sequence[Waiting] = (),
) -> GivenBack:  # fmt: skip
    """What goes back of a drop. drop: its kept bytes; mapping: the one it was read by. An entry without a number is a trial.

    differing: what its held rows say otherwise than others; still: what they would wait for once they are mended.
    """
    told: dict[tuple[str, int], list[Fault]] = defaultdict(list)
    for f in faults:
        told[f.sheet, f.row].append(f)
    rows = {place: why for place, why in told.items() if not {f.code for f in why} & NOT_MENDED_HERE}
    wanted = dict(sorted(rows.items())[:MOST_ROWS])
    sheets = []
    named = {sheet for sheet, _ in (*rows, *((d.sheet, d.row) for d in differing))}
    ways = {
        s.name: _how_read(entry, s, _origin(entry, s), drop, mapping, kinds) for s in entry.sheets if s.name in named
    }
    matches = {name: match for name, (_, match) in ways.items() if match}
    theirs = own_words([*(m.sheet for m in matches.values()), *mapping.sheets])
    shown = headed(differing, matches)
    unlike: dict[tuple[str, int], list[Difference]] = defaultdict(list)
    for d in shown:
        unlike[d.sheet, d.row].append(d)
    later: dict[tuple[str, int], list[Waiting]] = defaultdict(list)
    for w in still:
        later[w.sheet, w.row].append(w)
    if "record" in segments and wanted and entry.receipt.records <= MOST_READ:
        for read in entry.sheets:
            here = {row: why for (sheet, row), why in wanted.items() if sheet == read.name}
            made = _sheet(entry, read, here, segments["record"], *ways[read.name], kinds) if here else None
            if made and made.rows:
                told_rows = [
                    replace(r, differing=unlike.get((read.name, r.row), ()), still=later.get((read.name, r.row), ()))
                    for r in made.rows
                ]
                sheets.append(replace(made, rows=told_rows, theirs=theirs))
    left_out = len(rows) - sum(len(s.rows) for s in sheets) if sheets else 0
    return GivenBack(sheets, left_out, shown, theirs)


def _origin(entry: Entry, read: SheetRead) -> Origin:
    """Of which file and sheet the rows are: of those from which they were given back, where they were."""
    file, sheet = next((t for h in read.header if (t := told_by(h))), (Path(entry.name).name, read.name))
    return Origin(file, sheet, 1, -1, tuple(n for n, h in enumerate(read.header) if is_ours(h)))


def _sheet(
    entry: Entry, read: SheetRead, wanted: MappingLike[int, list[Fault]], record: Path, above: list[list[str]],
    match: Match | None, kinds: MappingLike[str, Kind],
) -> HeldSheet | None:  # fmt: skip
    origin = _origin(entry, read)
    file, sheet = origin.file, origin.sheet
    own = [n for n in range(len(read.header)) if n not in origin.ours]
    header = [read.header[n] for n in own]
    if match is None or not writable([file, sheet, *header, *(t for pair in above for t in pair)]):
        return None
    rows = []
    for row, cells in cells_of(record, read, set(wanted), match).items():
        mine = [cells[n] for n in own]
        if writable(mine):
            held = HeldId(entry.number, read.name, row) if entry.number else None
            rows.append(HeldRow(row, mine, wanted[row], held))
    amounts = frozenset(n for n, h in enumerate(header) if h in _amounts(match, kinds))
    # a blank sheet filled in as a workbook has numbers: as texts they would keep a mark that its owner's program may not write
    filled = read.encoding == "" and any(told_in(cells, kinds) for cells in above)
    return HeldSheet(file, sheet, header, above, amounts, read.encoding == read.delimiter == "" or filled, rows)


def how_read(
    entry: Entry, read: SheetRead, drop: Path, mapping: Mapping, kinds: MappingLike[str, Kind]
) -> Match | None:
    """What reads a sheet of a drop, None where nothing does."""
    return _how_read(entry, read, _origin(entry, read), drop, mapping, kinds)[1]


def _how_read(
    entry: Entry, read: SheetRead, origin: Origin, drop: Path, mapping: Mapping, kinds: MappingLike[str, Kind]
) -> tuple[list[list[str]], Match | None]:
    """What stood above the headings, and what reads the sheet; the drop is opened again only where something may say so there."""
    above: list[list[str]] = []
    if read.header_row > 1 or any(s.above for s in mapping.sheets):
        for found, match, _ in find_sheets(drop, entry.name, mapping, kinds):
            if match and found.name == read.name:
                own = [c for c in mark_row(found.head, kinds) if c.strip()]
                above = [own] if own else []
                above += [[label, match.given[c]] for c, label in match.sheet.above.items() if c in match.given]
    head = [["", "", *cells] for cells in above] + [list(read.header)]
    match = match_of(replace(origin, at=len(head)), head, mapping, kinds)
    filled = [s for s in mapping.sheets if match and s.parts == match.sheet.parts and s.files == match.sheet.files]
    if match and filled:  # what is blank meant: as above; it is written out
        match = replace(match, sheet=replace(match.sheet, fill_down=filled[0].fill_down))
    return above, match


def cells_of(record: Path, read: SheetRead, wanted: set[int], match: Match) -> dict[int, list[str]]:
    """The cells of those rows, by row, as they came; with what stands above where blank means that."""
    fills = bool(match.sheet.fill_down)
    found = rows_of(record, read.name, None if fills else wanted)
    if fills and found:
        columns = {
            f"c{n}": pa.array([c[n].strip() for c in found.values()], pa.string()) for n in range(len(read.header))
        }
        with connection() as con:
            filled = FillDown(match.sheet, read.header)(
                con, pa.table({"row": pa.array(list(found), pa.int64()), **columns})
            )
        for name in filled.column_names[1:]:
            at = int(name[1:])
            if read.header[at] in match.sheet.fill_down:
                for row, text in zip(filled.column("row").to_pylist(), filled.column(name).to_pylist(), strict=True):
                    found[row][at] = text
    return {row: cells for row, cells in found.items() if row in wanted}


def _amounts(match: Match, kinds: MappingLike[str, Kind]) -> set[str]:
    """Headings of numbers, days and times."""
    found = set()
    for part in match.sheet.parts:
        types = {c.name: c.type for c in kinds[part.kind].columns}
        found |= {h for c, h in part.headings.items() if types[c] != "text"}
    return found
