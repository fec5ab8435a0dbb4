"""Where letters go: out/letters/<partner>/<receipt>-<file>.txt, with the whole list of held rows beside it."""

import csv
import io
import re
from collections.abc import Mapping
from dataclasses import fields
from pathlib import Path

import pyarrow.parquet as pq

from pipeline import disk
from pipeline.faults import Fault
from pipeline.ledger.entry import Entry
from pipeline.outputs.letters import Vanished, faults_from, letter
from pipeline.outputs.tables import plain_cell


def _path(out: Path, entry: Entry) -> Path:
    """A partner's file name is never used as a path: only its plain letters and digits are."""
    name = re.sub(r"[^A-Za-z0-9._-]+", "_", Path(entry.name).stem)[:60].strip("._") or "file"
    return out / "letters" / entry.partner / f"{entry.number:06d}-{name}.txt"


def is_written(out: Path, entry: Entry) -> bool:
    """Whether the receipt's letter is there."""
    return _path(out, entry).is_file()


def write_letter(out: Path, entry: Entry, segments: Mapping[str, Path], programme: str) -> None:
    """Write the receipt's letter, and when rows are held their whole list as CSV."""
    faults = faults_from(pq.read_table(segments["fault"]).to_pylist()) if "fault" in segments else []
    columns = ["kind", "key", "row_before"]
    asked = pq.read_table(segments["asked"], columns=columns).to_pylist() if "asked" in segments else []
    path = _path(out, entry)
    disk.make_folder(path.parent)
    if faults:
        disk.replace(path.with_suffix(".csv"), _list_of(faults).encode())
    disk.replace(path, letter(entry, faults, [Vanished(**a) for a in asked], programme).encode())


def _list_of(faults: list[Fault]) -> str:
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    names = [f.name for f in fields(Fault)]
    writer.writerow(names)
    writer.writerows([plain_cell(getattr(f, n)) for n in names] for f in faults)
    return text.getvalue()
