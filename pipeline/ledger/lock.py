"""Waiting locks on files, let go by the system even when the process dies: one writer at a time, or many at work."""

import os
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO

from pipeline.errors import Busy

PATIENCE_S = 600.0


@contextmanager
def only_writer(path: Path, patience_s: float = PATIENCE_S, shared: bool = False) -> Iterator[None]:
    """Hold the lock while the block runs; Busy when another run keeps it longer than `patience_s` seconds.

    shared: hold it together with others who share it, against one who wants it alone.
    """
    until = time.monotonic() + patience_s
    while True:
        with path.open("a+b") as f:
            while not _taken(f, shared):
                if time.monotonic() > until:
                    raise Busy(
                        f"Another run has been working on this ledger for {patience_s:.0f} s. "
                        "Wait for it to end and run again; nothing was changed."
                    )
                time.sleep(0.05)
            try:
                if not _still_there(f, path):
                    continue  # the ledger was put in another's place while this run waited: that one has its own lock
                yield
                return
            finally:
                _let_go(f)


def _still_there(f: IO[bytes], path: Path) -> bool:
    """Whether the open file is the one that stands under that name now."""
    return path.exists() and os.path.samestat(os.fstat(f.fileno()), path.stat())


if sys.platform == "win32":  # untested: see DEVELOPERS.md. Nothing can be shared here: runs wait for each other
    import msvcrt

    def _taken(f: IO[bytes], shared: bool) -> bool:
        try:
            f.seek(0)
            msvcrt.locking(f.fileno(), msvcrt.LK_NBLCK, 1)
        except OSError:
            return False
        return True

    def _let_go(f: IO[bytes]) -> None:
        f.seek(0)
        msvcrt.locking(f.fileno(), msvcrt.LK_UNLCK, 1)

else:
    import fcntl

    def _taken(f: IO[bytes], shared: bool) -> bool:
        try:
            fcntl.flock(f.fileno(), (fcntl.LOCK_SH if shared else fcntl.LOCK_EX) | fcntl.LOCK_NB)
        except BlockingIOError:
            return False
        return True

    def _let_go(f: IO[bytes]) -> None:
        fcntl.flock(f.fileno(), fcntl.LOCK_UN)
