"""Every write to a disk that must survive a power cut goes through here: write, fsync, link, rename."""

import hashlib
import os
from pathlib import Path

CHUNK = 1 << 22


def sha256_of(path: Path) -> str:
    """SHA-256 of a file's bytes, as hex."""
    digest = hashlib.sha256()
    with path.open("rb") as f:
        while chunk := f.read(CHUNK):
            digest.update(chunk)
    return digest.hexdigest()


def sync_file(path: Path) -> None:
    """Make a file's bytes durable."""
    fd = os.open(path, os.O_RDONLY)
    try:
        os.fsync(fd)
    finally:
        os.close(fd)


def sync_folder(path: Path) -> None:
    """Make a folder's names durable (a no-op where folders cannot be opened, as on Windows)."""
    try:
        fd = os.open(path, os.O_RDONLY)
    except PermissionError:
        return
    try:
        os.fsync(fd)
    finally:
        os.close(fd)


def write_durably(path: Path, data: bytes) -> None:
    """Write a new file and make its bytes durable; its name is not, until the folder is synced."""
    with path.open("xb") as f:
        f.write(data)
        f.flush()
        os.fsync(f.fileno())


def link_if_absent(made: Path, name: Path) -> bool:
    """Give a finished file its final name unless the name is taken; both stay on one file system.

    True when this call gave the name. A hard link is atomic and never overwrites: this is the commit.
    """
    try:
        os.link(made, name)
    except FileExistsError:
        return False
    sync_folder(name.parent)
    return True


def replace_durably(path: Path, data: bytes) -> None:
    """Replace a small file whole: readers see the old bytes or the new ones, never half."""
    beside = path.with_name(path.name + f".{os.getpid()}.new")
    beside.unlink(missing_ok=True)
    write_durably(beside, data)
    beside.replace(path)
    sync_folder(path.parent)
