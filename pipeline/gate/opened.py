"""An archive, zipped or a folder, opened with care: no path leads out of it, and nothing unfolds beyond measure."""

import zipfile
import zlib
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path, PurePosixPath
from typing import IO

from pipeline.gate.rule import Effect, Hits, Rule

MOST_UNPACKED = 64 << 30  # bytes of all files together
MOST_RATIO, SURELY_FINE = 300, 64 << 20  # a file may unfold to so many times its size, or to so many bytes
MOST_FILES = 10_000
CHUNK = 4 << 20
GUIDE = "Darwin Core text guide (tdwg/dwc docs/text)"
OWN = "Wrackline's own care, no source"

_REFUSED = (Effect.REFUSES, Effect.REFUSES)
NO_ARCHIVE = Rule("no archive", "a zip file or a folder, whole and without a password", *_REFUSED, GUIDE)
PATH_LEADS_OUT = Rule("path leads out", "names of files inside the archive, without .. or a leading /", *_REFUSED, OWN)
UNFOLDS_TOO_FAR = Rule("unfolds too far", "files that unfold to an ordinary multiple of their size", *_REFUSED, OWN)
SAME_NAME_TWICE = Rule("two files of one name", "each name once in the archive", *_REFUSED, OWN)


class CannotRead(Exception):
    """A file of the archive broke off while it was read."""


def leads_out(name: str) -> bool:
    """Whether a path of an archive points out of it."""
    parts = PurePosixPath(name.replace("\\", "/")).parts
    return name.startswith(("/", "\\")) or ".." in parts or any(":" in p for p in parts[:1]) or "\0" in name


@dataclass(frozen=True)
class Opened:
    """An open archive: the names of its files, and how to read one."""

    names: tuple[str, ...]
    _folder: Path | None = None
    _zip: zipfile.ZipFile | None = None
    _inside: frozenset[str] = field(default_factory=frozenset)

    @contextmanager
    def reading(self, name: str) -> Iterator[IO[bytes]]:
        """The bytes of one file by its name in the archive; KeyError when it is not there, CannotRead when damaged."""
        if name not in self._inside:
            raise KeyError(name)
        try:
            with self._zip.open(name) if self._zip else (self._folder or Path()).joinpath(name).open("rb") as f:
                yield f
        except (zipfile.BadZipFile, zlib.error, EOFError, RuntimeError, NotImplementedError, OSError) as e:
            raise CannotRead(f"{name}: {e}") from None

    def read(self, name: str, most: int) -> bytes:
        """A small file's bytes, one more than `most` at most."""
        with self.reading(name) as f:
            return f.read(most + 1)


@contextmanager
def opened(path: Path, hits: Hits) -> Iterator[Opened | None]:
    """The archive at a path, or None with the reason among the hits."""
    if path.is_dir():
        yield _folder(path, hits)
        return
    try:
        packed = zipfile.ZipFile(path)
    except (OSError, zipfile.BadZipFile, NotImplementedError, ValueError) as e:
        hits.add(NO_ARCHIVE, path.name, str(e))
        yield None
        return
    with packed:
        yield Opened(names, None, packed, frozenset(names)) if (names := _looked_over(packed, hits)) else None


def _folder(path: Path, hits: Hits) -> Opened:
    here = path.resolve()
    names = []
    for p in sorted(path.rglob("*")):
        if p.is_file():
            name = p.relative_to(path).as_posix()
            if p.resolve().is_relative_to(here):
                names.append(name)
            else:
                hits.add(PATH_LEADS_OUT, name, "a link that leads out of the folder")
    return Opened(tuple(names), path, None, frozenset(names))


def _looked_over(packed: zipfile.ZipFile, hits: Hits) -> tuple[str, ...]:
    """The names of a zip's files; none when its directory alone speaks against opening it."""
    files = [i for i in packed.infolist() if not i.is_dir()]
    fine = bool(files)
    if not files:
        hits.add(NO_ARCHIVE, packed.filename or "", "the zip file is empty")
    if len(files) > MOST_FILES or sum(i.file_size for i in files) > MOST_UNPACKED:
        hits.add(UNFOLDS_TOO_FAR, "", f"{len(files):,} files, {sum(i.file_size for i in files):,} bytes")
        fine = False
    for i in files:
        if i.file_size > max(SURELY_FINE, MOST_RATIO * i.compress_size):
            hits.add(UNFOLDS_TOO_FAR, i.filename, f"{i.compress_size:,} bytes unfold to {i.file_size:,}")
            fine = False
        if leads_out(i.filename):
            hits.add(PATH_LEADS_OUT, i.filename, i.filename)
        if i.flag_bits & 1:
            hits.add(NO_ARCHIVE, i.filename, "it is locked with a password")
            fine = False
    names = [i.filename for i in files if not leads_out(i.filename)]
    for name, times in Counter(names).items():
        if times > 1:
            hits.add(SAME_NAME_TWICE, name, name)
    return tuple(names) if fine else ()
