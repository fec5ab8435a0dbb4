"""What an entry adds to the projection. Joins the ledger's files and the warehouse for `run.py`."""

import datetime as dt
from collections.abc import Mapping, Sequence
from pathlib import Path

from pipeline.errors import BadUsage
from pipeline.ledger.entry import Entry
from pipeline.ledger.fates import is_whole
from pipeline.ledger.files import erased_files, segments_left
from pipeline.ledger.store import Ledger
from schemas.kinds import Kind
from schemas.upcasts import OTHER_SEGMENTS
from warehouse.database import Load


def loads(ledger: Ledger, entries: Sequence[Entry], kinds: Mapping[str, Kind], prove: bool = True) -> list[Load]:
    """What these entries add. Where some were erased, all entries up to the redaction are wanted.

    prove: look at every byte of their segments; who reads them elsewhere proves them there.
    """
    erased = erased_files(ledger, entries)
    return [load(ledger, e, kinds, erased, prove) for e in entries]


def refuse_newer(entries: Sequence[Entry], kinds: Mapping[str, Kind]) -> None:
    """BadUsage when a segment of one of them is of a version that is newer than us, and would be misread."""
    known = {**OTHER_SEGMENTS, **{k.name: k.version for k in kinds.values()}}
    for e in entries:
        for s in e.segments:
            if s.version > known.get(s.kind, 0):
                raise BadUsage(
                    f"Entry {e.number} holds `{s.kind}` of version {s.version}, which this Wrackline does not know. Nothing "
                    "is wrong with it: use the newer Wrackline that wrote it."
                )


def load(ledger: Ledger, e: Entry, kinds: Mapping[str, Kind], erased: Mapping[Path, Entry], prove: bool = True) -> Load:
    """What the entry adds. LedgerDamaged when a segment is not as it was written, BadUsage when it is newer than us."""
    segments = segments_left(ledger, e, erased)
    refuse_newer([e], kinds)
    if prove:
        ledger.prove(e, segments.values())
    return Load(
        e.number, dt.datetime.fromisoformat(e.recorded).replace(tzinfo=None), e.what, e.partner, e.drop, e.name,
        e.mapping, e.rules, e.retaken, {s.kind: ledger.segment_path(s) for s in segments.values()},
        {s.kind: s.version for s in segments.values()}, e.segment("fault") is not None and "fault" not in segments,
        e.disputed_with, is_whole(e),
    )  # fmt: skip
