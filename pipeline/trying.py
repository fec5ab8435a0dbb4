"""One file tried against a programme: what would become of each of its rows, and the letter about it. Nothing is entered."""

import hashlib
import tempfile
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import duckdb
import pyarrow.parquet as pq

from pipeline import disk
from pipeline.apart import Reader
from pipeline.differing import Row, as_decided, by_rules, of_place, told_of, wanted_by, words_of_trial
from pipeline.errors import BadUsage, ProjectionDamaged
from pipeline.faults import Fault
from pipeline.giving_back import GivenBack, held_back
from pipeline.intake.mapping import parse_mapping
from pipeline.intake.names import names_of
from pipeline.ledger.entry import Entry
from pipeline.ledger.fates import hold_parts, in_order, parts_in
from pipeline.ledger.files import redactions
from pipeline.ledger.known import Cached
from pipeline.ledger.staging import Staged
from pipeline.ledger.store import Ledger
from pipeline.meant import Named, still_unknown, with_meant
from pipeline.outputs.given_back import workbook
from pipeline.outputs.held_list import list_of
from pipeline.outputs.letters import Returned, Vanished, faults_from, letter
from pipeline.outputs.paper import Paper
from pipeline.outputs.words import words
from pipeline.programme import Programme, mapping_bytes, open_programme, partner_names
from pipeline.record import entry_of, judged, segments_of
from pipeline.run import this_instant
from pipeline.says import Saying, sayings, whole_saying
from pipeline.session import Asked, session
from pipeline.spoken import contact_of, language_for
from pipeline.still_waits import named_by_held
from pipeline.unsettled import Waiting, waiting_of
from pipeline.world import is_worlds
from schemas.kinds import Kind, all_kinds
from warehouse import current
from warehouse.database import Load


@dataclass(frozen=True)
class Fate:
    """What would become of one part of a row: enters, amends, is held, is known; why: the sort of fault, "" where there is none."""

    sheet: str
    row: int
    part: int
    kind: str
    key: str
    fate: str
    why: str


@dataclass(frozen=True)
class Tried:
    """What would become of a file. known_as: the receipt that these very bytes have already, 0 for none. waits: what would enter
    and not count yet; still: what rows that would be held would wait for once they are mended."""

    entry: Entry
    fates: tuple[Fate, ...]
    faults: tuple[Fault, ...]
    letter: Paper
    back: bytes
    known_as: int
    waits: tuple[Waiting, ...] = ()
    still: tuple[Waiting, ...] = ()


def try_file(root: Path, file: Path, partner: str) -> Tried:
    """Try a file as if that partner handed it in now. The ledger is only read, as far as it is written by now.

    BadUsage when there is no such file or partner, or when these bytes were erased on request.
    """
    programme, kinds = open_programme(root), all_kinds()
    if not file.is_file():
        raise BadUsage(f"{file} is no file. Name the file that is to be tried.")
    if partner not in partner_names(programme.places):
        raise BadUsage(f"{partner!r} is no partner: it has no inbox. Make inbox/{partner}, or name another.")
    ledger = Ledger(programme.places.ledger, compact=programme.places.entries_cache)
    entries, digest = ledger.entries(), disk.sha256_of(file)
    if digest in redactions(entries):
        raise BadUsage(f"{file}: these bytes were erased on request and are never taken in again.")
    known_as = next((e.number for e in entries if (e.partner, e.drop) == (partner, digest)), 0)
    mapping = mapping_bytes(programme.places, partner)
    with tempfile.TemporaryDirectory() as made:
        folder = Path(made)
        (folder / "staged").mkdir()
        used = hashlib.sha256(mapping).hexdigest()
        blank = Staged(folder / "staged", partner, digest, file.stat().st_size, file.name, used)
        with Reader() as reader:
            staged = reader.examine(file, blank, mapping, programme.rules.timezone, names_of(programme.rules))
        cached = _cached(programme, ledger)
        try:
            return _judged(programme, ledger, entries, staged, file, kinds, cached, folder / "first", known_as)
        except duckdb.Error as e:
            if cached is None or is_worlds(e):
                raise  # else another run put a newer projection in its place just now: the ledger says the same
            return _judged(programme, ledger, entries, staged, file, kinds, None, folder / "second", known_as)


def _cached(programme: Programme, ledger: Ledger) -> Cached | None:
    at = current.pointer(programme.places.warehouse)
    usable = at is not None and at.number <= ledger.last_number() and ledger.hash_of(at.number) == at.hash
    return Cached(programme.places.warehouse / at.file, at.number) if at is not None and usable else None


def _judged(
    programme: Programme, ledger: Ledger, entries: list[Entry], staged: Staged, file: Path, kinds: dict[str, Kind],
    cached: Cached | None, folder: Path, known_as: int,
) -> Tried:  # fmt: skip
    folder.mkdir()
    others = [e for e in entries if not (known_as and (e.partner, e.drop) == (staged.partner, staged.drop))]
    with judged(ledger, others, [staged], kinds, cached if not known_as else None, folder) as (con, back, of_all):
        parts = segments_of(con, staged, 0, back[0], of_all, folder, kinds)
        entry = entry_of(con, staged, back[0], parts, hashlib.sha256(programme.rules.raw).hexdigest())
        rows = words_of_trial(con, staged.name, {e.number: e.name for e in entries})
    segments = {name: path for name, (path, _) in parts.items()}
    faults = faults_from(_rows(segments, "fault"))
    asked = [Vanished(a["kind"], a["key"], a["row_before"], bool(a["held"])) for a in _rows(segments, "asked")]
    mapping = mapping_bytes(programme.places, staged.partner)
    told = told_of(file.name, rows, _said(programme, kinds, segments, rows), kinds)
    differing = by_rules(told, programme.rules.settling)
    faults = as_decided(faults, differing)
    written = parse_mapping(staged.partner, mapping, kinds)
    named = named_by_held(entry, file, segments, faults, written, kinds)
    last = max((e.number for e in entries), default=0)
    waits, still = _waiting(
        programme, entry, last + 1, segments, {name: staged.version(name) for name in segments}, kinds, named
    )
    given = held_back(entry, file, segments, faults, written, kinds, differing, still)
    language = language_for(
        staged.partner,
        mapping,
        programme.rules.raw,
        [*others, entry],
        lambda d: file if d == staged.drop else ledger.drop_path(d),
    )
    returned = Returned(f"{file.stem}.held.xlsx", given.left_out) if given.sheets else None
    paper = letter(
        entry,
        faults,
        asked,
        programme.rules.name,
        (),
        of_place(given.differing),
        language,
        returned,
        True,
        given.theirs,
        waits,
        still,
        contact=contact_of(programme.rules.raw),
    )
    made = _workbook(given, language)
    return Tried(entry, _fates(segments), tuple(faults), paper, made, known_as, tuple(waits), tuple(still))


def _waiting(
    programme: Programme, entry: Entry, number: int, segments: Mapping[str, Path], versions: Mapping[str, int],
    kinds: dict[str, Kind], named: Sequence[Named],
) -> tuple[list[Waiting], list[Waiting]]:  # fmt: skip
    """What would enter and wait, and what held rows would wait for once mended, seen beside what is projected; nothing where nothing is."""
    if current.pointer(programme.places.warehouse) is None or not hold_parts(segments):
        return [], []
    load = Load(
        number, this_instant().replace(tzinfo=None), entry.what, entry.partner, entry.drop, entry.name, entry.mapping,
        entry.rules, entry.retaken, segments, versions,
    )  # fmt: skip
    with (
        suppress(ProjectionDamaged),
        session(programme.places.root, Asked(rules="today"), [load]) as (con, _),
    ):
        waits = with_meant(con, kinds, waiting_of(con, [number]))
        return waits, still_unknown(con, number, entry.partner, entry.name, named)
    return [], []


def _said(
    programme: Programme, kinds: dict[str, Kind], segments: Mapping[str, Path], rows: Sequence[Row]
) -> dict[tuple[str, str, str], Saying]:
    """Values by kind, identity and content: of the file as it was read, and of what is projected of others."""
    wanted = set(wanted_by(rows))
    found: dict[tuple[str, str, str], Saying] = {}
    if wanted and current.pointer(programme.places.warehouse) is not None:
        # without a whole projection the letter still says what it says, but not what others told
        with suppress(ProjectionDamaged), session(programme.places.root) as (con, _):
            found |= sayings(con, kinds, wanted, whole=True)
    for kind in {k for k, *_ in wanted} & segments.keys():
        for r in pq.read_table(segments[kind]).to_pylist():
            if (kind, r["identity"], r["content"]) in wanted:
                values = {c.name: r[c.name] for c in kinds[kind].columns}
                found[kind, r["identity"], r["content"]] = whole_saying(values)
    return found


def _workbook(given: GivenBack, language: str) -> bytes:
    return workbook(given.sheets, words(language)) if given.sheets else b""


def _rows(segments: Mapping[str, Path], name: str) -> list[dict[str, Any]]:
    return pq.read_table(segments[name]).to_pylist() if name in segments else []


def _fates(segments: Mapping[str, Path]) -> tuple[Fate, ...]:
    why: dict[tuple[object, ...], str] = {}
    for f in _rows(segments, "fault"):
        why.setdefault((f["sheet"], f["row"], f["part"]), str(f["code"]))
    paths = {name: segments[name] for name in hold_parts(segments)}
    parts = parts_in(paths, ["sheet", "row", "part", "kind", "key", "fate"])
    return tuple(
        Fate(**{c: p[c] or "" for c in ("sheet", "kind", "key", "fate")}, row=p["row"], part=p["part"],
             why=why.get((p["sheet"], p["row"], p["part"]), ""))
        for p in in_order(parts)
    )  # fmt: skip


def write_tried(tried: Tried, folder: Path) -> list[Path]:
    """Write the letter, as text and page, and where rows would be held their list and the workbook; gives what was written."""
    stem = Path(tried.entry.name).stem
    files = {f"{stem}.letter.txt": tried.letter.text().encode(), f"{stem}.letter.html": tried.letter.page().encode()}
    files |= {f"{stem}.held.csv": list_of(tried.faults, words(tried.letter.language))} if tried.faults else {}
    files |= {f"{stem}.held.xlsx": tried.back} if tried.back else {}
    disk.make_folder(folder)
    for name, data in files.items():
        disk.replace(folder / name, data)
    return [folder / name for name in files]
