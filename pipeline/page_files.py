"""Brings a folder to hold the files of a site of pages: what was made of the same values before is neither made nor written again."""

import json
import os
from collections.abc import Iterable
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path

from pipeline import disk
from pipeline.pages.tree import File


@dataclass(frozen=True)
class Made:
    """What a building of pages did: files in all, those made anew, those of them written since they were other, those taken
    away; why there are no public ones; partners' words of which no figure stands on them, as nobody agreed to the words."""

    files: int = 0
    rendered: int = 0
    written: int = 0
    removed: int = 0
    kept_back: tuple[str, ...] = ()
    words: tuple[str, ...] = ()


class Known:
    """Of every file of a folder of pages the hash of what it was made of, and of its bytes; can be thrown away."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.now: dict[str, list[str]] = {}
        try:
            self.before: dict[str, list[str]] = json.loads(path.read_text())
        except (OSError, ValueError):
            self.before = {}

    def stays(self, file: File, there: bytes | None) -> bool:
        """Whether the file was made of the same, and lies there as it was made. there: its bytes, None where it is not."""
        told = self.before.get(file.path)
        if not (file.made_of and there is not None and told == [file.made_of, sha256(there).hexdigest()]):
            return False
        self.now[file.path] = told
        return True

    def note(self, file: File, data: bytes) -> None:
        """Remember what a file was made of."""
        if file.made_of:
            self.now[file.path] = [file.made_of, sha256(data).hexdigest()]

    def keep(self) -> None:
        """Write it down for the next time."""
        if self.now != self.before:
            disk.replace(self.path, json.dumps(self.now, sort_keys=True).encode())


def write_tree(folder: Path, files: Iterable[File], known: Known) -> Made:
    """Bring a folder to hold just these files: what is the same stays, what is no more goes.

    What was made of the same values before is not made again. Pages are made again at any time, so only names are flushed,
    once at the end.
    """
    total = made = written = 0
    wanted: set[Path] = set()
    for file in files:
        path = folder / file.path
        total += 1
        wanted.add(path)
        there = path.read_bytes() if path.is_file() else None
        if known.stays(file, there):
            continue
        data = file.make()
        made += 1
        known.note(file, data)
        if there == data:
            continue
        if not path.parent.is_dir():
            disk.make_folder(path.parent)
        beside = path.with_name(f".{path.name}.{os.getpid()}.new")
        disk.remove(beside)
        disk.write_new(beside, data)
        disk.rename(beside, path, durable=False)
        written += 1
    gone = [p for p in sorted(folder.rglob("*")) if p.is_file() and p not in wanted]
    for path in gone:
        disk.remove(path)
    for inner in sorted({p.parent for p in wanted}):
        disk.sync_folder(inner)
    known.keep()
    return Made(total, made, written, len(gone))
