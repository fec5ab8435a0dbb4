"""The ledger's folder: keeping drops, reading entries, appending one."""

import datetime as dt
import errno
import hashlib
import os
import re
import shutil
import uuid
from collections.abc import Collection, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path

from pipeline import disk
from pipeline.errors import BadUsage, LedgerDamaged
from pipeline.ledger.compact import WORTH_IT, count_compact, read_compact, write_compact
from pipeline.ledger.entry import BEFORE_FIRST, Entry, Segment, read_entry
from pipeline.ledger.lock import PATIENCE_S, only_writer
from pipeline.world import FULL


@dataclass(frozen=True)
class Head:
    """The last entry's number and the hash of its bytes; 0 and zeros for a ledger without entries."""

    number: int = 0
    hash: str = BEFORE_FIRST


GOES_ON = dt.timedelta(microseconds=1)  # from an entry to the next of the same take-in
APART = dt.timedelta(milliseconds=1)  # from an entry to the first of another take-in, at least
ENTRY_NAME = re.compile(r"([0-9]{9})\.json")
_DROP, _SEGMENT, _KIND = (re.compile(p) for p in (r"[0-9a-f]{64}", r"[0-9a-f]{64}\.parquet", r"[a-z][a-z_]*"))


def _safe(pattern: re.Pattern[str], name: str) -> str:
    """What an entry says is in a file's name: a forged entry must not lead out of the ledger's folder."""
    if not pattern.fullmatch(name):
        raise LedgerDamaged(
            f"An entry names the file {name!r}, which cannot be one of a ledger: it was not written by us."
        )
    return name


@dataclass(frozen=True)
class Ledger:
    """A ledger on a local disk. compact: a cache of its entries (see compact.py), where there may be one."""

    root: Path
    compact: Path | None = None

    @property
    def drops(self) -> Path:
        """Kept bytes, named by their hash."""
        return self.root / "drops"

    @property
    def segments(self) -> Path:
        """Parquet files by kind, named by their hash."""
        return self.root / "segments"

    @property
    def entries_folder(self) -> Path:
        """Numbered entries."""
        return self.root / "entries"

    @property
    def scratch(self) -> Path:
        """Where things are made before they get their names; whatever lies here is not of the ledger."""
        return self.root / "scratch"

    def prepare(self) -> None:
        """Make the folders, and refuse a disk that cannot keep the ledger's promises."""
        self.make_folders()
        with self.at_work():
            self._probe()

    def make_folders(self) -> None:
        """Make the folders: enough for a copy, which nobody but `backup` writes."""
        for folder in (self.drops, self.segments, self.entries_folder, self.scratch):
            disk.make_folder(folder)

    def _probe(self) -> None:
        probe, twin = self.scratch / f"probe-{uuid.uuid4().hex}", self.scratch / f"twin-{uuid.uuid4().hex}"
        try:
            disk.write_durably(probe, b"probe")
            os.link(probe, twin)
            disk.sync_folder(self.scratch)
        except OSError as e:
            if e.errno in (*FULL, errno.EROFS, errno.EACCES):  # no fault of this kind of disk
                raise
            raise BadUsage(
                f"{self.root} is on a disk that cannot make hard links or flush files ({e.strerror}). "
                "Keep the programme on a local disk; copies elsewhere are for reading."
            ) from e
        finally:
            probe.unlink(missing_ok=True)
            twin.unlink(missing_ok=True)

    @contextmanager
    def writing(self, patience_s: float = PATIENCE_S) -> Iterator[None]:
        """Be the only writer while the block runs."""
        with only_writer(self.root / "lock", patience_s):
            yield

    @contextmanager
    def at_work(self, alone: bool = False, patience_s: float = PATIENCE_S) -> Iterator[None]:
        """Be one of the runs that keep or read files no entry names yet. Taken before `writing`, never within it.

        alone: be sure that there is no such run, as whoever takes files away must be.
        """
        with only_writer(self.root / "at-work", patience_s, shared=not alone):
            yield

    @contextmanager
    def workspace(self) -> Iterator[Path]:
        """A folder of one's own on the ledger's file system, gone afterwards."""
        self.scratch.mkdir(parents=True, exist_ok=True)
        folder = self.scratch / uuid.uuid4().hex
        folder.mkdir()
        try:
            yield folder
        finally:
            shutil.rmtree(folder, ignore_errors=True)

    # --- drops and segments ---------------------------------------------------------------------------------

    def drop_path(self, digest: str) -> Path:
        """Where the bytes with that hash are kept."""
        return self.drops / _safe(_DROP, digest)

    def segment_path(self, segment: Segment) -> Path:
        """Where that segment is kept."""
        return self.segments / _safe(_KIND, segment.kind) / _safe(_SEGMENT, f"{segment.hash}.parquet")

    def stored(self) -> tuple[list[Path], list[Path]]:
        """Files among drops and segments, in order: those whose names are of a ledger's sort, and all others."""
        own: list[str] = []
        others: list[str] = []
        for top, name_of, depth in ((self.drops, _DROP, 0), (self.segments, _SEGMENT, 1)):
            for folder, _, names in os.walk(top):  # names only: a ledger of many drops has a hundred thousand
                placed = len(Path(folder).relative_to(top).parts) == depth
                for name in names:
                    (own if placed and name_of.fullmatch(name) else others).append(f"{folder}/{name}")
        return [Path(p) for p in sorted(own)], [Path(p) for p in sorted(others)]

    def keep_bytes(self, data: bytes) -> str:
        """Keep small bytes (rules, a mapping) like a drop; gives their hash."""
        digest = hashlib.sha256(data).hexdigest()
        if not self.drop_path(digest).exists():
            with self.workspace() as folder:
                disk.write_durably(folder / "bytes", data)
                disk.link_if_absent(folder / "bytes", self.drop_path(digest))
        return digest

    def keep_file(self, path: Path, never: Collection[str] = ()) -> tuple[str, int]:
        """Keep a file's bytes; gives hash and size of what was kept, whatever the file becomes meanwhile. never: hashes of bytes that are not."""
        with self.workspace() as folder:
            digest, size = disk.copy_hashed(path, folder / "copy")
            if digest not in never:
                disk.sync_file(folder / "copy")
                disk.link_if_absent(folder / "copy", self.drop_path(digest))
        return digest, size

    def keep_segment(self, made: Path, kind: str, rows: int, version: int) -> Segment:
        """Give a finished Parquet file its place."""
        segment = Segment(kind, disk.sha256_of(made), made.stat().st_size, rows, version)
        disk.make_folder(self.segments / kind)
        disk.sync_file(made)
        disk.link_if_absent(made, self.segment_path(segment))
        return segment

    def prove(self, entry: Entry, segments: Iterable[Segment]) -> None:
        """LedgerDamaged when one of these segments of the entry is not as it was written."""
        for s in segments:
            path = self.segment_path(s)
            if not path.is_file() or disk.sha256_of(path) != s.hash:
                raise LedgerDamaged(
                    f"The {s.kind} segment of entry {entry.number} is gone or was changed ({path.relative_to(self.root)}). "
                    "Nothing was made from it; `wrackline verify` tells what else is wrong. Put it back with `wrackline restore`."
                )

    # --- entries --------------------------------------------------------------------------------------------

    def entry_path(self, number: int) -> Path:
        """Where the entry of that number stands."""
        return self.entries_folder / f"{number:09d}.json"

    def entries(self, after: int = 0) -> list[Entry]:
        """Every entry after that number, in order, each proved linked to the one before it."""
        numbers = self.numbers()
        last = max(numbers, default=0)
        found: list[Entry] = []
        if self.compact and not after and len(numbers) == last:  # with a gap nothing is read past it
            found = read_compact(self.compact, last, self.hash_of)
        after = after or len(found)
        previous = self.hash_of(after)
        for number in range(after + 1, last + 1):
            try:
                data = self.entry_path(number).read_bytes()
            except FileNotFoundError:
                raise LedgerDamaged(f"Entry {number} is gone, though later ones are there.") from None
            entry = read_entry(data, number)
            if entry.previous != previous:
                raise LedgerDamaged(f"Entry {number} does not follow from entry {number - 1}.")
            previous = hashlib.sha256(data).hexdigest()
            found.append(entry)
        return found

    def renew_compact(self) -> None:
        """Renew the cache of entries where one is kept and enough is new."""
        last = self.last_number()
        if self.compact is not None and last - count_compact(self.compact, last, self.hash_of) >= WORTH_IT:
            write_compact(self.compact, self.entries())

    def entry(self, number: int) -> Entry:
        """The entry of that number, proved whole by its own seal."""
        try:
            return read_entry(self.entry_path(number).read_bytes(), number)
        except FileNotFoundError:
            raise LedgerDamaged(f"Entry {number} is gone.") from None

    def last_number(self) -> int:
        """Number of the last entry, 0 if there is none."""
        return max(self.numbers(), default=0)

    def numbers(self) -> list[int]:
        """The numbers under which something stands among the entries, in no order."""
        if not self.entries_folder.is_dir():
            return []
        found = (ENTRY_NAME.fullmatch(name) for name in os.listdir(self.entries_folder))  # noqa: PTH208 - quicker
        return [int(m[1]) for m in found if m]

    def hash_of(self, number: int) -> str:
        """Hash of an entry's bytes; zeros for number 0."""
        if number == 0:
            return BEFORE_FIRST
        try:
            return hashlib.sha256(self.entry_path(number).read_bytes()).hexdigest()
        except FileNotFoundError:
            raise LedgerDamaged(f"Entry {number} is gone.") from None

    def head(self) -> Head:
        """The last entry."""
        number = self.last_number()
        return Head(number, self.hash_of(number))

    def append(self, entry: Entry, now: dt.datetime, goes_on: bool = False) -> Entry:
        """Add an entry: the link of its file is the commit. Call only while `writing`.

        The entry's `previous` and `recorded` are set here: recorded is now, or, where that is not late enough, a step after
        the entry before. The step carries meaning: a microsecond after the one before is an entry that goes on with the same
        take-in (goes_on), and the first of another is a millisecond after it or more, though the clock went back
        (`publishing.ends_of_take_ins` tells take-ins apart by it).
        """
        head, floor = self.head(), dt.datetime.min.replace(tzinfo=dt.UTC)
        if head.number:
            floor = dt.datetime.fromisoformat(self.entry(head.number).recorded) + (GOES_ON if goes_on else APART)
        recorded = max(now, floor).isoformat(timespec="microseconds")
        whole = replace(entry, previous=head.hash, recorded=recorded, number=head.number + 1)
        if not whole.receipt.holds():
            raise AssertionError(f"the sums of {whole.name} do not hold: {whole.receipt}")
        with self.workspace() as folder:
            disk.write_durably(folder / "entry", whole.to_bytes())
            if not disk.link_if_absent(folder / "entry", self.entry_path(whole.number)):
                raise LedgerDamaged(f"Entry {whole.number} appeared while this run held the lock.")
        return whole
