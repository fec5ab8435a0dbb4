"""Where the parts of a drop are, each stored once: as an event in its kind's segment, and in `part` if it is none (at fault, or
said before).

Entries whose `part` is of version 1 have all of them there, events too.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

import pyarrow.parquet as pq

from pipeline.ledger.entry import Entry, Segment
from schemas.upcasts import OTHER_SEGMENTS

PART = "part"
WHOLE = 1  # version of a part segment that holds events too


def is_whole(entry: Entry) -> bool:
    """Whether all parts of the entry are in its `part`."""
    own = entry.segment(PART)
    return own is not None and own.version == WHOLE


def hold_parts(names: Iterable[str], whole: bool = False) -> list[str]:
    """Those of the segments of an entry in which its parts are. whole: as `is_whole`."""
    return [name for name in names if name == PART or not (whole or name in OTHER_SEGMENTS)]


def with_parts(entry: Entry) -> list[Segment]:
    """The segments in which the entry's parts are."""
    names = hold_parts((s.kind for s in entry.segments), is_whole(entry))
    return [s for s in entry.segments if s.kind in names]


def parts_in(
    paths: Mapping[str, Path], columns: Sequence[str], filters: list[tuple[str, str, Any]] | None = None
) -> Iterator[dict[str, Any]]:
    """Parts by segment, each as a row of those columns. paths: the files of such segments by name; filters: as pyarrow's,
    over any column but the kind."""
    for name, path in paths.items():
        asked = [c for c in columns if c != "kind" or name == PART]
        for row in pq.read_table(path, columns=asked, filters=filters).to_pylist():
            yield row if asked == [*columns] else {**row, "kind": name}


def in_order(parts: Iterable[dict[str, Any]]) -> list[dict[str, Any]]:
    """As they stood: by sheet, row and part."""
    return sorted(parts, key=lambda p: (p["sheet"], p["row"], p["part"]))


def parts_sql(name: str, rows: str, beside: str = "") -> str:
    """SQL of the parts in such a segment. rows: SQL of its rows; beside: more of their columns, each with a comma behind it."""
    kind = "kind" if name == PART else f"'{name}' as kind"
    return f"select {beside} sheet, row, part, {kind}, fate, identity, key, content from {rows}"
