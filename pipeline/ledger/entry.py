"""The ledger's line for one drop: numbered by its name, linked to the one before by hash, sealed by its own."""

import hashlib
import json
from dataclasses import asdict, dataclass, field, replace

from pipeline.errors import LedgerDamaged

FORMAT = 1
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
    """One entry. `what` is drop, or rules when only the programme's rules changed.

    previous      SHA-256 of the entry before, as bytes on disk.
    recorded      UTC, microseconds; later than the entry before.
    drop, name    the drop's hash and the name it was handed in under.
    mapping, rules  hashes of the files it was judged by, kept like drops.
    disputed_with drops of the same take-in that say otherwise about some key: judged together even after a stop.
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
    format: int = FORMAT
    number: int = field(default=0, compare=False)

    def to_bytes(self) -> bytes:
        """The one way to write this entry: sorted keys, no spaces, its seal last."""
        plain = asdict(self)
        del plain["number"]  # the number stands in the file's name only
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
        entry = Entry(
            **{
                **told,
                "sheets": tuple(SheetRead(**{**s, "header": tuple(s["header"])}) for s in told["sheets"]),
                "receipt": Receipt(**told["receipt"]),
                "segments": tuple(Segment(**s) for s in told["segments"]),
                "disputed_with": tuple(told["disputed_with"]),
            }
        )
    except (ValueError, KeyError, TypeError, AttributeError) as e:
        raise LedgerDamaged(f"Entry {number} cannot be read ({type(e).__name__}): its bytes were changed.") from e
    if entry.to_bytes() != data:
        raise LedgerDamaged(f"Entry {number} is not as it was written: its bytes were changed.")
    return replace(entry, number=number)
