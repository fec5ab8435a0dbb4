"""An archive's files: made in a room of their own, asked of the gate, and put where they belong only then."""

import datetime as dt
import json
import shutil
from collections import Counter
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from pipeline import disk
from pipeline.archive.pack import CHUNK
from pipeline.archive.versions import Version, difference
from pipeline.archive_known import ABOUT
from pipeline.errors import KeptBack
from pipeline.gate.check import check as gate
from pipeline.plural import n_of

ROOM = "archiving"  # in warehouse/: what an export that was killed left there goes with the next


@contextmanager
def room_in(folder: Path) -> Iterator[Path]:
    """An empty folder for files that nobody needs once they are put elsewhere; they may take more than memory holds."""
    room = folder / ROOM
    disk.remove_folder(room)
    disk.make_folder(room)
    try:
        yield room
    finally:
        disk.remove_folder(room)


def kept(path: Path, data: bytes) -> Path:
    """The path of a small file with these bytes in the room."""
    with path.open("wb") as file:
        file.write(data)
    return path


def changes(before: Version, now: Version, room: Path) -> tuple[Path, Counter[str]]:
    """The difference as a table for people and programs, and how much was added, changed and deleted.

    Of the first version, in which all is new, its headings alone.
    """
    counts, path = Counter[str](), room / "changes.csv"
    told = {what: (room / f"changes-{what}.csv").open("w+b") for what in ("added", "changed", "deleted")}
    for what, table, key in difference(before.rows(), now.rows()) if now is not before else ():
        counts[what] += 1
        if now.number > 1:
            told[what].write(f"{now.number},{what},{table},{key}\n".encode())
    with path.open("wb") as file:
        file.write(b"version,what,table,id\n")
        for part in told.values():
            with part:
                part.seek(0)
                shutil.copyfileobj(part, file, CHUNK)
    return path, counts


def refuse_at_the_gate(archive: Path, today: dt.date) -> None:
    """KeptBack where a repository would drop a row of it or refuse it whole."""
    verdict = gate(archive, today)
    if not verdict.may_leave:
        told = [
            f"  {f.rule.name}: {n_of(f.rows, 'row')}, such as {f.example.file} row {f.example.row}, {f.example.id or f.example.value}. "
            f"Wanted: {f.rule.wanted}."
            for f in verdict.stops
        ]
        raise KeptBack(
            "\n".join(["Nothing was written, since repositories would drop rows of this archive or refuse it:", *told])
        )


def put(into: Path, files: Mapping[str, Path], about: Mapping[str, Any]) -> None:
    """about.json is taken away first and put back last: where it stands, the files beside it are those it speaks of."""
    disk.make_folder(into)
    disk.remove(into / ABOUT)
    for name, made in files.items():
        disk.make_folder((into / name).parent)
        disk.put_in_place(made, into / name)
    disk.replace(into / ABOUT, (json.dumps(about, indent=1, sort_keys=True) + "\n").encode())
