"""What was published before and what is now: by identifier and hash of what is said of it, never by place in a file."""

import csv
import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass

import pyarrow as pa
import pyarrow.parquet as pq

Known = dict[tuple[str, str], str]  # (table, identifier) -> hash of its row


@dataclass(frozen=True)
class Version:
    """A state of an archive. number 0: nothing was published yet. digest: of all that stands, in whatever order."""

    number: int
    digest: str
    known: Known


NOTHING = Version(0, "", {})


@dataclass(frozen=True)
class Difference:
    """What is new, said otherwise and gone: (table, identifier), in whatever order."""

    added: frozenset[tuple[str, str]] = frozenset()
    changed: frozenset[tuple[str, str]] = frozenset()
    deleted: frozenset[tuple[str, str]] = frozenset()


def rows_of(texts: Mapping[str, tuple[bytes, int]]) -> Known:
    """Every row of the tables: name -> (its text as `pack.as_text` writes it, place of its identifier in a line).

    A row is a line: no cell of an archive holds a line break.
    """
    found: Known = {}
    for name, (text, at) in texts.items():
        lines = text.decode().rstrip("\n").split("\n")[1:]
        for line, cells in zip(lines, csv.reader(lines), strict=True):
            found[name, cells[at]] = hashlib.sha256(line.encode()).hexdigest()[:32]
    return found


def digest_of(known: Known) -> str:
    """One hash of all rows, the same in whatever order they came."""
    told = "\n".join(sorted(f"{table}\x1f{key}\x1f{content}" for (table, key), content in known.items()))
    return hashlib.sha256(told.encode()).hexdigest()


def next_version(before: Version, known: Known) -> Version:
    """The version that tells of these rows: the one before, if it told of the same."""
    digest = digest_of(known)
    return before if digest == before.digest else Version(before.number + 1, digest, known)


def difference(before: Known, now: Known) -> Difference:
    """What to tell whoever holds the version before."""
    return Difference(
        frozenset(now.keys() - before.keys()),
        frozenset(k for k in now.keys() & before.keys() if now[k] != before[k]),
        frozenset(before.keys() - now.keys()),
    )


def as_parquet(version: Version) -> bytes:
    """A version as a table of identifiers, to be kept beside the archive."""
    keys = sorted(version.known)
    told = pa.table(
        {"table": [t for t, _ in keys], "id": [k for _, k in keys], "digest": [version.known[k] for k in keys]},
        schema=pa.schema([(n, pa.string()) for n in ("table", "id", "digest")]),
    ).replace_schema_metadata({"version": json.dumps({"number": version.number, "digest": version.digest})})
    made = pa.BufferOutputStream()
    pq.write_table(told, made, compression="zstd")
    data: bytes = made.getvalue().to_pybytes()
    return data


def from_parquet(data: bytes) -> Version | None:
    """The version that `as_parquet` wrote; None when the bytes are not of one."""
    try:
        told = pq.read_table(pa.BufferReader(data))
        head = json.loads((told.schema.metadata or {})[b"version"])
        rows = zip(*(told.column(n).to_pylist() for n in ("table", "id", "digest")), strict=True)
        return Version(int(head["number"]), str(head["digest"]), {(t, k): d for t, k, d in rows})
    except (pa.ArrowException, OSError, KeyError, TypeError, ValueError):
        return None


def changes_csv(version: Version, told: Difference) -> bytes:
    """The difference as a table for people and programs; of the first version, in which all is new, its headings alone."""
    if version.number == 1:
        told = Difference()
    lines = [f"{version.number},{what},{table},{key}" for what in ("added", "changed", "deleted")
             for table, key in sorted(getattr(told, what))]  # fmt: skip
    return ("\n".join(["version,what,table,id", *lines]) + "\n").encode()
