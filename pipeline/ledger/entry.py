"""The ledger's line for one drop: numbered by its name, linked to the one before by hash, sealed by its own."""

import hashlib
import json
from dataclasses import dataclass, field
from typing import Any

from pipeline.errors import LedgerDamaged

NEWEST_FORMAT = 4
# What a format of entries has more than the one before. An entry is written in the oldest format that can say it, and
# its bytes never change; each format is read for ever.
# Format 4 adds none: who cannot read it does not know that parts are in their kinds' segments too (`fates`), and must not judge by it.
ADDED: dict[int, tuple[str, ...]] = {2: ("redacts", "by", "reason"), 3: ("notes",), 4: ()}
BEFORE_FIRST = "0" * 64


@dataclass(frozen=True)
class Segment:
    """A Parquet file of the ledger: its name is its hash. `version` is the kind's, for reading it in years to come."""

    kind: str
    hash: str
    size: int
    rows: int
    version: int


@dataclass(frozen=True)
class SheetRead:
    """What a sheet was: where its headings stood and what they were, how its lines were read."""

    name: str
    header_row: int
    header: tuple[str, ...]
    encoding: str
    delimiter: str


@dataclass(frozen=True)
class Receipt:
    """What became of a drop: lines = furniture + blank + records, parts = entered + held + repeated.

    `entered` counts amendments too; `held` counts faults, conflicts and questions; `asked` counts rows that an
    earlier version of the same file had and this one has not.
    """

    lines: int = 0
    furniture: int = 0
    blank: int = 0
    records: int = 0
    parts: int = 0
    entered: int = 0
    amended: int = 0
    held: int = 0
    repeated: int = 0
    asked: int = 0

    def holds(self) -> bool:
        """Whether both sums hold."""
        return (
            self.lines == self.furniture + self.blank + self.records
            and self.parts == self.entered + self.held + self.repeated
        )


@dataclass(frozen=True)
class Entry:
    """One entry. `what` is drop, rules when only the programme's rules changed, or redaction.

    previous      SHA-256 of the entry before, as bytes on disk.
    recorded      UTC, microseconds; later than the entry before.
    drop, name    the drop's hash and the name it was handed in under.
    mapping, rules  hashes of the files it was judged by, kept like drops.
    disputed_with drops of the same take-in that say otherwise about some key: judged together even after a stop.
    notes         sentences about how the drop was read that its owner should know, such as sheets that were left out.
    redacts, by, reason  the drop whose bytes were erased (see redact.py), who decided it and why.
    """

    previous: str
    recorded: str
    what: str
    rules: str
    partner: str = ""
    drop: str = ""
    size: int = 0
    name: str = ""
    mapping: str = ""
    retaken: bool = False
    unreadable: str = ""
    sheets: tuple[SheetRead, ...] = ()
    receipt: Receipt = Receipt()
    segments: tuple[Segment, ...] = ()
    disputed_with: tuple[str, ...] = ()
    redacts: str = ""
    by: str = ""
    reason: str = ""
    notes: tuple[str, ...] = ()
    format: int = 1
    number: int = field(default=0, compare=False)

    def to_bytes(self) -> bytes:
        """The one way to write this entry: sorted keys, no spaces, its seal last."""
        plain: dict[str, Any] = {  # asdict would copy every value, and take most of the time of reading a ledger
            **vars(self),
            "sheets": [vars(s) for s in self.sheets],
            "receipt": vars(self.receipt),
            "segments": [vars(s) for s in self.segments],
        }
        del plain["number"]  # the number stands in the file's name only
        for later in range(self.format + 1, NEWEST_FORMAT + 1):
            for name in ADDED[later]:
                del plain[name]
        body = json.dumps(plain, sort_keys=True, separators=(",", ":"), ensure_ascii=False).encode()
        seal = hashlib.sha256(body).hexdigest().encode()
        return b'{"entry":' + body + b',"seal":"' + seal + b'"}\n'

    def segment(self, kind: str) -> Segment | None:
        """The segment of that kind, if the drop yielded one."""
        return next((s for s in self.segments if s.kind == kind), None)


def read_entry(data: bytes, number: int) -> Entry:
    """The entry from its bytes; LedgerDamaged when a byte is not as it was written."""
    try:
        told = json.loads(data)["entry"]
        if told["format"] > NEWEST_FORMAT and _sealed(data):
            raise LedgerDamaged(
                f"Entry {number} is of format {told['format']}; this Wrackline reads up to {NEWEST_FORMAT}. "
                "Nothing is wrong with it: use the newer Wrackline that wrote it."
            )
        entry = entry_from(told, number)
        same = entry.to_bytes() == data
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError) as e:
        raise LedgerDamaged(f"Entry {number} cannot be read ({type(e).__name__}): its bytes were changed.") from e
    if not same:
        raise LedgerDamaged(f"Entry {number} is not as it was written: its bytes were changed.")
    return entry


def entry_from(told: dict[str, Any], number: int) -> Entry:
    """The entry from what its JSON says. KeyError, TypeError or AttributeError when that is none."""
    return Entry(
        **{
            **told,
            "sheets": tuple(SheetRead(**{**s, "header": tuple(s["header"])}) for s in told["sheets"]),
            "receipt": Receipt(**told["receipt"]),
            "segments": tuple(Segment(**s) for s in told["segments"]),
            "disputed_with": tuple(told["disputed_with"]),
            "notes": tuple(told.get("notes", ())),
        },
        number=number,
    )


def _sealed(data: bytes) -> bool:
    """Whether the seal fits what stands before it, whatever that says."""
    body, _, seal = data.removeprefix(b'{"entry":').rpartition(b',"seal":"')
    return seal == hashlib.sha256(body).hexdigest().encode() + b'"}\n'
