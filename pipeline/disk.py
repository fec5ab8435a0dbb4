"""Every change to a disk goes through here: write, copy, fsync, link, rename, remove. Small, so that it can be trusted.

`watch` is called before and after each step. Nothing listens in ordinary runs; the tests stop the process there.
"""

import hashlib
import os
import re
import shutil
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from pipeline.errors import BadUsage

# Bytes in hand at once: so few stay in the processor's own memory, where they are hashed and written sooner.
CHUNK = 1 << 18

Watch = Callable[[str, str, Path], None]


def _nobody(_when: str, _what: str, _path: Path) -> None:
    pass


watch: Watch = _nobody


@contextmanager
def privately() -> Iterator[None]:
    """What the block makes is its owner's alone: nobody else may read it, unless WRACKLINE_UMASK says otherwise.

    WRACKLINE_UMASK: three octal digits, such as 027 where a group may read. BadUsage when it is anything else.
    """
    told = os.environ.get("WRACKLINE_UMASK", "077")
    if not re.fullmatch(r"0?[0-7]{3}", told):
        raise BadUsage(f"WRACKLINE_UMASK is {told!r}; three octal digits are wanted, such as 077 or 027.")
    before = os.umask(int(told, 8))
    try:
        yield
    finally:
        os.umask(before)


@contextmanager
def step(what: str, path: Path) -> Iterator[None]:
    """One change to a disk: `what` is done to `path`. Libraries that write by themselves are wrapped in it too."""
    watch("before", what, path)
    yield
    watch("after", what, path)


def sha256_of(path: Path) -> str:
    """SHA-256 of a file's bytes, as hex."""
    with path.open("rb", buffering=0) as f:
        return hashlib.file_digest(f, "sha256").hexdigest()


def write_new(path: Path, data: bytes) -> None:
    """Write a file that was not there; neither its bytes nor its name are durable yet."""
    with step("write", path), path.open("xb") as f:
        f.write(data)


def copy_hashed(path: Path, to: Path) -> tuple[str, int]:
    """Copy a file to a new one; gives hash and size of what was copied, whatever the file becomes meanwhile."""
    digest, size, held = hashlib.sha256(), 0, memoryview(bytearray(CHUNK))
    with step("write", to), path.open("rb", buffering=0) as src, to.open("xb") as dst:
        while n := src.readinto(held):
            digest.update(held[:n])
            dst.write(held[:n])
            size += n
    return digest.hexdigest(), size


def copy(path: Path, to: Path) -> None:
    """Copy a file's bytes."""
    with step("write", to):
        shutil.copyfile(path, to)


def sync_file(path: Path) -> None:
    """Make a file's bytes durable."""
    with step("fsync", path):
        fd = os.open(path, os.O_RDONLY)
        try:
            os.fsync(fd)
        finally:
            os.close(fd)


def sync_folder(path: Path) -> None:
    """Make a folder's names durable (a no-op where folders cannot be opened, as on Windows)."""
    with step("fsync", path):
        try:
            fd = os.open(path, os.O_RDONLY)
        except PermissionError:
            return
        try:
            os.fsync(fd)
        finally:
            os.close(fd)


def make_folder(path: Path) -> None:
    """Make a folder and those above it, durably."""
    missing = [p for p in (path, *path.parents) if not p.exists()]
    for folder in reversed(missing):
        with step("mkdir", folder):
            folder.mkdir(exist_ok=True)
        sync_folder(folder.parent)


def write_durably(path: Path, data: bytes) -> None:
    """Write a new file and make its bytes durable; its name is not, until it is linked or renamed."""
    write_new(path, data)
    sync_file(path)


def link_if_absent(made: Path, name: Path) -> bool:
    """Give a finished file its final name unless the name is taken; both stay on one file system.

    True when this call gave the name. A hard link is atomic and never overwrites: this is the commit.
    """
    try:
        with step("link", name):
            os.link(made, name)
    except FileExistsError:
        return False
    sync_folder(name.parent)
    return True


def rename(made: Path, name: Path, durable: bool = True) -> None:
    """Put a finished file in another's place: readers see the old bytes or the new ones, never half.

    durable=False: the name may be lost with the power until its folder is flushed, which is the caller's to do.
    """
    with step("rename", name):
        made.replace(name)
    if durable:
        sync_folder(name.parent)


def replace(path: Path, data: bytes, mode: int | None = None) -> None:
    """Replace a file whole and durably; mode: who may read it, if not everyone the system lets."""
    beside = path.with_name(f".{path.name}.{os.getpid()}.new")  # hidden: no inbox takes it for a drop
    with suppress(FileNotFoundError):
        beside.unlink()
    write_durably(beside, data)
    if mode is not None:
        beside.chmod(mode)
    rename(beside, path)


def on_one_disk(one: Path, other: Path) -> bool:
    """Whether a file can be renamed from one place to the other."""
    return one.stat().st_dev == other.stat().st_dev


def put_in_place(made: Path, path: Path) -> None:
    """Put a finished file durably in another's place; where it was made on another disk, a copy of it."""
    if not on_one_disk(made, path.parent):
        beside = path.with_name(f".{path.name}.{os.getpid()}.new")
        copy(made, beside)
        made = beside
    sync_file(made)
    rename(made, path)


def half_made(path: Path) -> bool:
    """Whether a `replace` that was stopped left this file beside the one it was to become."""
    return re.fullmatch(r"\..+\.\d+\.new", path.name) is not None


def remove_folder(path: Path) -> None:
    """Take a folder away with all that lies in it, as far as the system allows it."""
    with step("remove", path):
        shutil.rmtree(path, ignore_errors=True)


def remove(path: Path) -> None:
    """Take a file away if it is there and the system allows it (a reader on Windows may still hold it)."""
    with step("remove", path), suppress(OSError):
        path.unlink()
