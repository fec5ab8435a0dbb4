"""A programme of only the rows a figure rests on: files, mappings and rules as they were, nothing else."""

import csv
from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import NamedTuple

import pyarrow as pa
import pyarrow.parquet as pq

from pipeline.errors import BadUsage
from pipeline.intake.dialect import USUAL
from pipeline.intake.form_marks import mark_row
from pipeline.intake.mapping import parse_mapping
from pipeline.intake.parquet import ROWS_OF, TYPED
from pipeline.intake.read import open_sheets
from pipeline.intake.stated import NOTHING
from pipeline.ledger.entry import Entry, SheetRead
from pipeline.ledger.fates import parts_in, with_parts
from pipeline.ledger.files import erased_files
from pipeline.ledger.records import rows_of
from pipeline.ledger.redact import told
from pipeline.ledger.store import Ledger
from pipeline.lineage import Home
from pipeline.plural import n_of
from schemas.kinds import all_kinds


class _Part(NamedTuple):
    """What a row of an entry says of a thing."""

    sheet: str
    row: int
    part: int
    identity: str
    content: str


class _File(NamedTuple):
    """Rows of one sheet of an entry that are handed in together, under the entry's own file name."""

    entry: Entry
    sheet: SheetRead
    rows: frozenset[int]
    folder: str


def write_evidence(
    root: Path,
    rules: bytes,
    homes: Sequence[Home],
    entries: Mapping[int, Entry],
    ledger: Ledger,
    take: Callable[[Path], object],
) -> None:
    """Make a programme's folder at `root` and take its files in.

    A partner whose rows were read under different mappings has them taken in one mapping after the other. A row
    may say a second thing that was amended since: such rows are handed in first, and what amends them after, each
    row alone, so that no file amends much.
    """
    if root.exists() and any(root.iterdir()):
        raise BadUsage(f"{root} is not empty. Name a new folder.")
    _refuse_erased(ledger, homes, entries)
    (root / "partners").mkdir(parents=True)
    (root / "programme.toml").write_bytes(rules)
    wanted: dict[int, set[tuple[str, int]]] = defaultdict(set)
    for h in homes:
        wanted[h.entry].add((h.sheet, h.row))
    parts = {n: _parts(entries[n], rows, ledger) for n, rows in wanted.items()}
    current = _current(homes, parts)
    amended = {p.identity for told in parts.values() for p in told if current.get(p.identity, p.content) != p.content}
    before, after = [], []
    for n, rows in sorted(wanted.items()):
        old = {(p.sheet, p.row) for p in parts[n] if current.get(p.identity, p.content) != p.content}
        alone = {(p.sheet, p.row) for p in parts[n] if p.identity in amended} - old
        before += _files(entries[n], old, "-before")
        after += _files(entries[n], rows - old - alone, "")
        for place in sorted(alone):
            after += _files(entries[n], {place}, f"-{place[1]}")
    for turn in _turns(before) + _turns(after):
        for file in turn:
            if file.entry.mapping:
                mapping = ledger.drop_path(file.entry.mapping).read_bytes()
                (root / "partners" / f"{file.entry.partner}.toml").write_bytes(mapping)
            _write_rows(root / "inbox" / file.entry.partner, file, ledger)
        take(root)


def _refuse_erased(ledger: Ledger, homes: Sequence[Home], entries: Mapping[int, Entry]) -> None:
    """Rows whose bytes were erased cannot be handed in again."""
    erased = erased_files(ledger, list(entries.values()))
    for h in homes:
        segment = entries[h.entry].segment("record")
        redaction = erased.get(ledger.segment_path(segment)) if segment else None
        if redaction is not None:
            rows = sum(o.drop == h.drop for o in homes)
            raise BadUsage(
                f"{told(redaction)}. This figure rests on {n_of(rows, 'row')} of it: what they said still counts, but no "
                "evidence can be made of what was erased. `wrackline home` still names them."
            )


def _parts(e: Entry, rows: set[tuple[str, int]], ledger: Ledger) -> list[_Part]:
    """Everything that those rows of an entry say and that was not faulty."""
    asked_for = [("row", "in", {r for _, r in rows}), ("fate", "!=", "faulty")]
    paths = {s.kind: ledger.segment_path(s) for s in with_parts(e)}
    found = (_Part(**told) for told in parts_in(paths, _Part._fields, asked_for))
    return [p for p in found if (p.sheet, p.row) in rows]


def _current(homes: Sequence[Home], parts: Mapping[int, list[_Part]]) -> dict[str, str]:
    """The content that counts, by identity: what the figure's own rows say. Of what is in dispute none does."""
    here = {(h.entry, h.sheet, h.row, h.part) for h in homes if h.role != "left out"}
    return {p.identity: p.content for n, told in parts.items() for p in told if (n, p.sheet, p.row, p.part) in here}


def _files(e: Entry, rows: set[tuple[str, int]], folder: str) -> list[_File]:
    """Those rows of an entry as files, one a sheet."""
    numbers = {sheet.name: frozenset(r for s, r in rows if s == sheet.name) for sheet in e.sheets}
    return [_File(e, sheet, numbers[sheet.name], folder) for sheet in e.sheets if numbers[sheet.name]]


def _turns(files: Sequence[_File]) -> list[list[_File]]:
    """Files in as few take-ins as each partner's mappings allow."""
    turns: list[list[_File]] = []
    for file in files:
        e = file.entry
        for turn in turns:
            if all(o.entry.partner != e.partner or o.entry.mapping == e.mapping for o in turn):
                turn.append(file)
                break
        else:
            turns.append([file])
    return turns


def _write_rows(inbox: Path, file: _File, ledger: Ledger) -> None:
    """The rows with their headings, as plain text where that is read as it was read then.

    Otherwise as Parquet, which says whether cells were typed and what their sheet was called.
    The receipt's number is written in, since rows taken again under a mended mapping must not be the same bytes.
    """
    e, sheet = file.entry, file.sheet
    segment = e.segment("record")
    if segment is None:
        return
    inbox.mkdir(parents=True, exist_ok=True)
    rows = list(rows_of(ledger.segment_path(segment), sheet.name, file.rows).values())
    # the file's own name comes last, since mappings go by its beginning; the entry's number keeps two versions apart
    sheet_number = f"-{e.sheets.index(sheet)}" if e.sheets.index(sheet) else ""
    path = inbox / f"{e.number:06d}{file.folder}{sheet_number}" / Path(e.name).name
    path.parent.mkdir(exist_ok=True)
    mark = _mark(file, ledger)
    if not mark and (sheet.encoding == "" or sheet.delimiter not in USUAL or _says_how_to_read(e, ledger)):
        columns = [pa.array([r[i] for r in rows], pa.string()) for i in range(len(sheet.header))]
        made = pa.Table.from_arrays(columns, names=list(sheet.header))
        typed = "no" if sheet.delimiter else "yes"  # a workbook's cells are written the partner's way
        pq.write_table(
            made.replace_schema_metadata({"receipt": str(e.number), ROWS_OF: sheet.name, TYPED: typed}), path
        )
        return
    with path.open("w", encoding="utf-8", newline="") as f:
        writer = csv.writer(f, delimiter=sheet.delimiter)
        writer.writerow([*mark, f"Receipt {e.number}"])
        writer.writerow(sheet.header)
        writer.writerows(rows)


def _mark(file: _File, ledger: Ledger) -> list[str]:
    """The row by which a blank sheet of ours says itself how it is read; none in any other sheet."""
    if file.sheet.header_row < 2:
        return []
    sheets = open_sheets(ledger.drop_path(file.entry.drop), file.entry.name)
    return next((mark_row(s.head, all_kinds()) for s in sheets if s.name == file.sheet.name), [])


def _says_how_to_read(e: Entry, ledger: Ledger) -> bool:
    """Whether the mapping speaks of titles, units or encodings that a file made by us would not have."""
    raw = ledger.drop_path(e.mapping).read_bytes() if e.mapping else b""
    return any(s.stated != NOTHING for s in parse_mapping(e.partner, raw, all_kinds()).sheets)
