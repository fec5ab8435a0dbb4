"""What held rows name besides what they are held for: sites, plots, beds and units, as far as their cells can be read. Joins the ledger and
intake, so that who mends a row is told at once of all that it would wait for."""

from collections.abc import Iterator, Sequence
from collections.abc import Mapping as MappingLike
from pathlib import Path

from pipeline.faults import Fault
from pipeline.giving_back import MOST_READ, MOST_ROWS, NOT_MENDED_HERE, cells_of, how_read
from pipeline.intake.match import Match
from pipeline.intake.ways import Mapping, PartMap
from pipeline.ledger.entry import Entry
from pipeline.ledger.fates import hold_parts, in_order, is_whole, parts_in
from pipeline.meant import UNIT, Named
from schemas.kinds import Kind
from warehouse.sqlfiles import WAITS, references

LOOKED_FOR = ("check", "loss")  # kinds that name a unit which must have been put down
CANNOT_NAME = "cannot name"
NOT_TRUSTED = {"row too long", "row too short"}  # faults of a row in which no cell can be told


def named_by_held(
    entry: Entry, drop: Path, segments: MappingLike[str, Path], faults: Sequence[Fault], mapping: Mapping,
    kinds: MappingLike[str, Kind],
) -> list[Named]:  # fmt: skip
    """What the held rows of a drop name, in order. drop: its kept bytes; mapping: the one it was read by.

    Cells that are at fault themselves, or that several cells or a heading make, are left out.
    """
    if "record" not in segments or not faults or entry.receipt.records > MOST_READ:
        return []
    at_fault = {(f.sheet, f.row, f.part, f.column) for f in faults}
    lost = {(f.sheet, f.row) for f in faults if f.code in NOT_MENDED_HERE | NOT_TRUSTED}
    held = [("fate", "in", ["faulty", "conflict", "question"])]
    columns = ["sheet", "row", "part", "kind", "key"]
    paths = {name: segments[name] for name in hold_parts(segments, is_whole(entry))}
    parts = in_order(
        p for p in parts_in(paths, columns, held) if p["kind"] in kinds and (p["sheet"], p["row"]) not in lost
    )
    found = []
    for read in entry.sheets:
        here = [p for p in parts if p["sheet"] == read.name][:MOST_ROWS]
        match = how_read(entry, read, drop, mapping, kinds) if here else None
        if match is None:
            continue
        rows = cells_of(segments["record"], read, {p["row"] for p in here}, match)
        for p in here:
            told = dict(_told(match, p["part"], dict(zip(read.header, rows.get(p["row"], ()), strict=False))))
            for column, rule in _asked(kinds, p["kind"]):
                word = told.get(column, "")
                if word and (read.name, p["row"], p["part"], column) not in at_fault and word.casefold() != CANNOT_NAME:
                    site = told.get("site_key", "") if rule in ("unknown plot", UNIT) else ""
                    found.append(Named(read.name, p["row"], p["part"], p["kind"], p["key"] or "", rule, word, site))
    return found


def _asked(kinds: MappingLike[str, Kind], kind: str) -> list[tuple[str, str]]:
    """Columns of a kind that name what must be known, and the rule that says so."""
    found = [(r.column, f"unknown {r.target}") for r in references(dict(kinds)) if r.kind == kind and r.target in WAITS]
    return found + ([("unit_key", UNIT)] if kind in LOOKED_FOR else [])


def _told(match: Match, part: int, cells: MappingLike[str, str]) -> Iterator[tuple[str, str]]:
    """Our columns of that part of a row, and the texts that its cells give them."""
    first, of = 1, None
    for p in match.sheet.parts:
        width = len(match.header) if p.wide else 1
        of, first = (p if first <= part < first + width else of), first + width
    yield from match.given.items()
    for column, text in of.fixed.items() if of else ():
        yield column, text
    for column, heading in of.headings.items() if of else ():
        yield column, _in_ours(of, column, cells.get(heading, "").strip(), match)


def _in_ours(part: PartMap | None, column: str, text: str, match: Match) -> str:
    codes = part.codes.get(column, {}) if part else {}
    if text.casefold() in {b.casefold() for b in match.sheet.blanks}:
        return ""
    return next((ours for theirs, ours in codes.items() if theirs.casefold() == text.casefold()), text)
