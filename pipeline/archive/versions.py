"""What was published before and what is now: by identifier and hash of what is said of it, never by place in a file.

Rows of a version come in batches, in order of table and identifier, from a file: an archive may have many millions.
"""

import hashlib
import json
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import IO

import pyarrow as pa
import pyarrow.compute as pac
import pyarrow.csv as pc
import pyarrow.parquet as pq

ROWS = pa.schema([(n, pa.string()) for n in ("table", "id", "digest")])
Rows = Iterable[pa.RecordBatch]  # of those columns
GROUP = 1 << 20  # rows that lie together in a file
BATCH = 1 << 16  # rows in memory at once where each is looked at
_BLOCK = 1 << 22  # bytes of a text in memory at once
_END = ("\U0010ffff", "", "")  # behind every row


@dataclass(frozen=True)
class Version:
    """A state of an archive. number 0: nothing was published yet. digest: of all that stands.

    file: Parquet, in which its rows lie in order, open for as long as they are asked for; None where it has none.
    """

    number: int
    digest: str
    file: IO[bytes] | None = None

    def rows(self, at_once: int = BATCH) -> Iterator[pa.RecordBatch]:
        """Its rows."""
        if self.file is not None:
            yield from pq.ParquetFile(self.file).iter_batches(at_once, columns=ROWS.names)


NOTHING = Version(0, "")


def rows_of(table: str, text: IO[bytes], key: str) -> Iterator[pa.RecordBatch]:
    """Every row of a table in its text's order. text: as `pack.write_csv` writes it; key: the column of identifiers.

    A row is a line: no cell of an archive holds a line break. pa.ArrowInvalid where the text is no such table.
    """
    told = pc.ConvertOptions(include_columns=[key], column_types={key: pa.string()}, strings_can_be_null=False)
    headings = text.readline()
    while lines := text.readlines(_BLOCK):
        ids = pc.read_csv(pa.BufferReader(headings + b"".join(lines)), convert_options=told)[key].combine_chunks()
        digests = [hashlib.sha256(line.rstrip(b"\n")).hexdigest()[:32] for line in lines]
        yield pa.record_batch([pa.repeat(table, len(lines)), ids, pa.array(digests)], schema=ROWS)


class Digest:
    """One hash of all rows that it was given, which come in order."""

    def __init__(self) -> None:
        """Of no row yet."""
        self._made, self._between = hashlib.sha256(), ""

    def add(self, rows: pa.RecordBatch) -> None:
        """Some more rows."""
        if len(rows):
            told = "\n".join(pac.binary_join_element_wise(*rows.columns, "\x1f").to_pylist())
            self._made.update((self._between + told).encode())
            self._between = "\n"

    def __str__(self) -> str:
        """As hex."""
        return self._made.hexdigest()


def digest_of(rows: Rows) -> str:
    """One hash of all rows."""
    digest = Digest()
    for batch in rows:
        digest.add(batch)
    return str(digest)


def next_version(before: Version, digest: str, file: IO[bytes]) -> Version:
    """The version that tells of the rows in a file, with that digest: the one before, if it told of the same."""
    return before if digest == before.digest else Version(before.number + 1, digest, file)


def difference(before: Rows, now: Rows) -> Iterator[tuple[str, str, str]]:
    """What to tell whoever holds the version before: added, changed or deleted; table; identifier. In order of the last two."""
    old, new = _one_by_one(before), _one_by_one(now)
    a, b = next(old, _END), next(new, _END)
    while (a, b) != (_END, _END):
        if a[:2] < b[:2]:
            yield "deleted", a[0], a[1]
            a = next(old, _END)
        elif b[:2] < a[:2]:
            yield "added", b[0], b[1]
            b = next(new, _END)
        else:
            if a[2] != b[2]:
                yield "changed", b[0], b[1]
            a, b = next(old, _END), next(new, _END)


def _one_by_one(rows: Rows) -> Iterator[tuple[str, str, str]]:
    for batch in rows:
        yield from zip(*(column.to_pylist() for column in batch.columns), strict=True)


def write_rows(rows: Rows, to: IO[bytes], about: Mapping[str, str] | None = None) -> None:
    """A file of rows. about: what its head says of them."""
    with pq.ParquetWriter(to, ROWS.with_metadata(about), compression="zstd") as file:
        for group in _grouped(rows):
            file.write_table(group.replace_schema_metadata(about), GROUP)


def _grouped(rows: Rows) -> Iterator[pa.Table]:
    """The rows as tables of `GROUP` rows each, the last of fewer."""
    waiting, n = [], 0
    for batch in rows:
        waiting.append(batch)
        n += len(batch)
        while n >= GROUP:
            together = pa.Table.from_batches(waiting, ROWS)
            yield together.slice(0, GROUP)
            waiting, n = together.slice(GROUP).to_batches(), n - GROUP
    yield pa.Table.from_batches(waiting, ROWS)


def write_version(version: Version, to: IO[bytes]) -> None:
    """A version as a table of identifiers, to be kept beside the archive."""
    head = json.dumps({"number": version.number, "digest": version.digest})
    write_rows(version.rows(), to, {"version": head})


def read_version(file: IO[bytes]) -> Version | None:
    """The version that `write_version` wrote; None when the file is not of one, or cannot be read to its end."""
    try:
        head = json.loads((pq.ParquetFile(file).schema_arrow.metadata or {})[b"version"])
        version = Version(int(head["number"]), str(head["digest"]), file)
        for batch in version.rows():
            batch.cast(ROWS)
    except (pa.ArrowException, OSError, KeyError, TypeError, ValueError):
        return None
    return version
