"""What was read from one drop, before it is judged: Parquet files in a folder of its own.

records  sheet, row, c0, c1 ...     each row's text as it was read, once (see `records`)
parts    sheet, row, part, kind, fate, identity, key, content      those that are no event, one line each
faults   one line a fault (pipeline.faults.Fault)
<kind>   sheet, row, part, fate, partner, identity, content, key, then the kind's columns      good parts only

The fate of parts is `faulty`, of events `entered`: what it is if the ledger says nothing else. Where that holds for all of a
drop, these files are its segments.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.parquet as pq

from pipeline.faults import Fault
from pipeline.ledger import records
from pipeline.ledger.entry import SheetRead
from pipeline.ledger.records import TEXTS
from schemas.upcasts import OTHER_SEGMENTS

if TYPE_CHECKING:  # pandera comes with it, which is not needed at once where a drop is read apart
    from schemas.kinds import Kind

PART_COLUMNS = pa.schema(
    [("sheet", TEXTS), ("row", pa.int64()), ("part", pa.int32()), ("kind", TEXTS),
     ("fate", TEXTS), ("identity", pa.string()), ("key", pa.string()), ("content", pa.string())]
)  # fmt: skip
FAULT_COLUMNS = pa.schema(
    [("sheet", pa.string()), ("row", pa.int64()), ("part", pa.int32()), ("kind", pa.string()),
     ("column", pa.string()), ("heading", pa.string()), ("code", pa.string()), ("found", pa.string()),
     ("wanted", pa.string()), ("advice", pa.string())]
)  # fmt: skip
NEVER_ALIKE = ("row", "identity", "content", "key")  # a dictionary of them is as long as they are
# numbers that follow each other, and texts of one length: packed sooner and smaller without what is the same in all
ENCODED = {"row": "DELTA_BINARY_PACKED", "identity": "DELTA_LENGTH_BYTE_ARRAY", "content": "DELTA_LENGTH_BYTE_ARRAY"}
# of what readers ask for least and greatest are kept; of all columns they would take a fifth of the writing
LOOKED_UP = ["row"]
SAID = ("sheet", "row", "part", "fate", "partner", "identity", "content", "key")  # before a kind's own columns


def _leaf(field: pa.Field) -> str:
    """What Parquet calls the values of a column; unless a list's are named so, they are written without a dictionary."""
    return f"{field.name}.list.element" if pa.types.is_list(field.type) else field.name


def _all(text: str, n: int) -> pa.Array:
    """The same text in n rows."""
    return pa.DictionaryArray.from_arrays(pa.repeat(pa.scalar(0, pa.int32()), n), pa.array([text]))


class Sink:
    """Somewhere to put what is read, as tables by name: `write` puts one there, the others make them."""

    partner: str
    kinds: dict[str, int]
    width: int  # cells of the widest sheet

    def write(self, name: str, table: pa.Table) -> None:
        """Add a table to those of that name."""
        raise NotImplementedError

    def write_parts(
        self,
        sheet: str,
        places: tuple[pa.Array, pa.Array],
        kind: "Kind",
        typed: pa.Table,
        named: tuple[pa.Array, pa.Array, pa.ChunkedArray],
        faulty: set[int],
    ) -> None:
        """Add parts of a kind: the good ones as events.

        places: row and part of each. typed: `row`, which is what `faulty` names, and the kind's columns. named: identity,
        content and key. All in the same order.
        """
        n = typed.num_rows
        identity, content, key = named
        bad = pc.is_in(typed.column("row"), pa.array(sorted(faulty), pa.int64())) if faulty else None
        place = [_all(sheet, n), *places]
        if bad is not None:
            told = [*place, _all(kind.name, n), _all("faulty", n), identity, key, content]
            self.write("parts", pa.table(told, schema=PART_COLUMNS).filter(bad))
        said = [*place, _all("entered", n), _all(self.partner, n), identity, content, key]
        own = [c.name for c in kind.columns]
        events = pa.table([*said, *(typed.column(c) for c in own)], names=[*SAID, *own])
        events = events if bad is None else events.filter(pc.invert(bad))
        if events.num_rows:
            self.kinds[kind.name] = kind.version
            self.write(kind.name, events)

    def write_records(self, sheet: str, rows: pa.Table, width: int) -> None:
        """Add rows as they were read: `row`, then dictionary arrays c0 .. c{width-1}."""
        cells = [rows.column(f"c{i}").combine_chunks() for i in range(width)]
        self.write("records", records.table_of(_all(sheet, rows.num_rows), rows.column("row"), cells, self.width))

    def write_faults(self, faults: Iterable[Fault]) -> None:
        """Add faults."""
        plain = [f.as_dict() for f in faults]
        if plain:
            self.write("faults", pa.Table.from_pylist(plain, FAULT_COLUMNS))

    def write_unmapped(self, sheet: str, rows: Sequence[int]) -> None:
        """Add parts of rows that could not be told apart into kinds at all."""
        n = len(rows)
        none = pa.nulls(n, pa.string())
        columns = [
            _all(sheet, n), pa.array(rows, pa.int64()), pa.array([1] * n, pa.int32()),
            _all("", n), _all("faulty", n), none, none, none,
        ]  # fmt: skip
        self.write("parts", pa.table(columns, PART_COLUMNS))


class Kept(Sink):
    """What was read of some rows, until it is its turn to be written."""

    def __init__(self, partner: str, width: int) -> None:
        self.partner, self.width, self.kinds = partner, width, dict[str, int]()
        self.tables: list[tuple[str, pa.Table]] = []

    def write(self, name: str, table: pa.Table) -> None:
        """Add a table to those of that name."""
        self.tables.append((name, table))


@dataclass
class Staged(Sink):
    """One drop as read. `used` is the mapping's hash; `name` what the file was called when handed in.

    notes: sentences for its letter. refused: why no row of one of its sheets could be read ("no mapping"), "" when all could.
    """

    folder: Path
    partner: str
    drop: str
    size: int
    name: str
    used: str
    retaken: bool = False
    unreadable: str = ""
    refused: str = ""
    lines: int = 0
    furniture: int = 0
    blank: int = 0
    records: int = 0
    sheets: list[SheetRead] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    kinds: dict[str, int] = field(default_factory=dict)
    parts: int = 0
    width: int = 0
    _writers: dict[str, pq.ParquetWriter] = field(default_factory=dict, repr=False)

    def path(self, name: str) -> Path:
        """The Parquet file of that name."""
        return self.folder / f"{name}.parquet"

    def version(self, name: str) -> int:
        """In which form the segment of that name is written."""
        versions = {**self.kinds, "record": records.version(self.width), "part": OTHER_SEGMENTS["part"]}
        return versions.get(name, 1)

    def parts_files(self) -> dict[str, Path]:
        """Its parts by the names of their segments to be."""
        own = {"part": self.path("parts")} if self.has("parts") else {}
        return own | {kind: self.path(kind) for kind in self.kinds}

    def has(self, name: str) -> bool:
        """Whether anything of that name was read."""
        return self.path(name).is_file()

    def write(self, name: str, table: pa.Table) -> None:
        """Add a table to the file of that name."""
        if name not in self._writers:
            names = table.column_names
            self._writers[name] = pq.ParquetWriter(
                self.path(name), table.schema, compression="zstd", write_statistics=LOOKED_UP, store_schema=False,
                use_dictionary=[_leaf(f) for f in table.schema if f.name not in NEVER_ALIKE],
                column_encoding={c: e for c, e in ENCODED.items() if c in names},
            )  # fmt: skip
        self._writers[name].write_table(table.cast(self._writers[name].schema))
        self.parts += table.num_rows if name == "parts" or name in self.kinds else 0

    def keep(self, kept: Kept) -> None:
        """Write what was read of some rows."""
        self.kinds.update(kept.kinds)
        for name, table in kept.tables:
            self.write(name, table)

    def close(self) -> "Staged":
        """Finish every file."""
        for writer in self._writers.values():
            writer.close()
        self._writers.clear()
        return self
