"""A programme of only the rows a figure rests on: files, mappings and rules as they were, nothing else."""

import csv
from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path

import duckdb
import pyarrow as pa
import pyarrow.parquet as pq

from pipeline.errors import BadUsage
from pipeline.ledger.entry import Entry, SheetRead
from pipeline.ledger.store import Ledger
from pipeline.lineage import Home


def write_evidence(
    root: Path,
    rules: bytes,
    homes: Sequence[Home],
    entries: Mapping[int, Entry],
    ledger: Ledger,
    take: Callable[[Path], object],
) -> None:
    """Make a programme's folder at `root` and take its files in.

    A partner whose rows were read under different mappings has them taken in one mapping after the other.
    """
    if root.exists() and any(root.iterdir()):
        raise BadUsage(f"{root} is not empty. Name a new folder.")
    (root / "partners").mkdir(parents=True)
    (root / "programme.toml").write_bytes(rules)
    wanted: dict[int, dict[str, set[int]]] = defaultdict(lambda: defaultdict(set))
    for h in homes:
        wanted[h.entry][h.sheet].add(h.row)
    for turn in _turns([entries[n] for n in sorted(wanted)]):
        for e in turn:
            if e.mapping:
                (root / "partners" / f"{e.partner}.toml").write_bytes(ledger.drop_path(e.mapping).read_bytes())
            for sheet in e.sheets:
                _write_rows(root / "inbox" / e.partner, e, sheet, wanted[e.number][sheet.name], ledger)
        take(root)


def _turns(entries: Sequence[Entry]) -> list[list[Entry]]:
    """Entries in as few take-ins as each partner's mappings allow."""
    turns: list[list[Entry]] = []
    for e in entries:
        for turn in turns:
            if all(o.partner != e.partner or o.mapping == e.mapping for o in turn):
                turn.append(e)
                break
        else:
            turns.append([e])
    return turns


def _write_rows(inbox: Path, e: Entry, sheet: SheetRead, numbers: set[int], ledger: Ledger) -> None:
    """The rows with their headings, as text: a Parquet file stays one, so that its cells are read our way again."""
    segment = e.segment("record")
    if segment is None or not numbers:
        return
    inbox.mkdir(parents=True, exist_ok=True)
    with duckdb.connect(config={"autoinstall_known_extensions": "false"}) as con:
        con.register("wanted", pa.table({"row": pa.array(sorted(numbers), pa.int64())}))
        found = con.sql(
            "select r.cells from read_parquet($path, hive_partitioning=false) r join wanted w on w.row = r.row where r.sheet = $sheet order by r.row",
            params={"path": str(ledger.segment_path(segment)), "sheet": sheet.name},
        ).fetchall()
    rows = [list(cells) for (cells,) in found]
    # the file's own name comes last, since mappings go by its beginning; the entry's number keeps two versions apart
    path = inbox / f"{e.number:06d}" / Path(e.name).name
    path.parent.mkdir(exist_ok=True)
    if sheet.encoding == "":
        columns = {h: pa.array([r[i] for r in rows], pa.string()) for i, h in enumerate(sheet.header)}
        pq.write_table(pa.table(columns), path)
        return
    with path.open("w", encoding="utf-8", newline="") as f:
        writer = csv.writer(f, delimiter=sheet.delimiter)
        writer.writerow(sheet.header)
        writer.writerows(rows)
