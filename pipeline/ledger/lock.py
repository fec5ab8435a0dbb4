"""One writer at a time: a waiting lock on a file, let go by the system even when the process dies."""

import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO

from pipeline.errors import Busy

PATIENCE_S = 600.0


@contextmanager
def only_writer(path: Path, patience_s: float = PATIENCE_S) -> Iterator[None]:
    """Hold the lock while the block runs; Busy when another run keeps it longer than `patience_s` seconds."""
    with path.open("a+b") as f:
        until = time.monotonic() + patience_s
        while not _taken(f):
            if time.monotonic() > until:
                raise Busy(
                    f"Another run has been working on this ledger for {patience_s:.0f} s. "
                    "Wait for it to end and run again; nothing was changed."
                )
            time.sleep(0.05)
        try:
            yield
        finally:
            _let_go(f)


if sys.platform == "win32":  # untested: see DEVELOPERS.md
    import msvcrt

    def _taken(f: IO[bytes]) -> bool:
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

    def _taken(f: IO[bytes]) -> bool:
        try:
            fcntl.flock(f.fileno(), fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            return False
        return True

    def _let_go(f: IO[bytes]) -> None:
        fcntl.flock(f.fileno(), fcntl.LOCK_UN)
