"""A big drop is read in a process of its own: should it be too much for the machine, only that process ends."""

import ctypes
import gc
import os
from contextlib import suppress
from pathlib import Path
from threading import Thread
from typing import TYPE_CHECKING

if TYPE_CHECKING:  # loaded where a drop is read; most nights bring none
    from concurrent.futures import ProcessPoolExecutor

    from pipeline.intake.names import Names
    from pipeline.ledger.staging import Staged

BIG = 32 << 20  # bytes; below it a process of its own would take longer to start than the reading takes

KEPT = 32 << 20  # bytes; smaller pieces of memory are not given back to the system at once
M_TRIM_THRESHOLD, M_MMAP_THRESHOLD = -1, -3  # of malloc.h


class Reader:
    """Reads drops, a big one in a process of its own, which may be begun before the drop is there to be read."""

    def __init__(self) -> None:
        self._pool: ProcessPoolExecutor | None = None

    def __enter__(self) -> "Reader":
        return self

    def __exit__(self, *_: object) -> None:
        self.end()

    def begin(self, size: int) -> None:
        """Expect a drop of so many bytes: its process loads what reading takes while it is still copied."""
        if size >= BIG and self._pool is None:
            from concurrent.futures import ProcessPoolExecutor
            from multiprocessing import get_context

            self._pool = ProcessPoolExecutor(1, get_context("spawn"), initializer=_ready)
            self._pool.submit(int)

    def end(self) -> None:
        """Expect no more: the process ends."""
        if self._pool is not None:
            self._pool.shutdown()
        self._pool = None

    def examine(self, path: Path, blank: "Staged", mapping: bytes, zone: str, names: "Names") -> "Staged":
        """Read the kept bytes at `path` into `blank`; MemoryError when they are too much. mapping: the partner's TOML."""
        if blank.size < BIG:
            return read_drop(path, blank, mapping, zone, names)
        from concurrent.futures.process import BrokenProcessPool

        if self._pool is not None:
            try:
                self._pool.submit(int).result()
            except BrokenProcessPool:  # it was ended while it waited, which says nothing of this drop
                self.end()
        self.begin(blank.size)
        assert self._pool is not None
        try:
            told = self._pool.submit(read_drop, path, blank, mapping, zone, names)
            import pipeline.record  # noqa: F401 - what is wanted next is loaded while that process reads

            return told.result()
        except BrokenProcessPool as e:
            raise MemoryError("the process that read it was ended by the system") from e
        finally:
            self.end()  # the next one begins with as much memory


def _ready() -> None:
    """Load what reading takes, here alone, and keep quiet.

    What libraries cry out when memory ends is nothing for a person; the run says it in a sentence.
    """
    os.dup2(os.open(os.devnull, os.O_WRONLY), 2)
    Thread(target=_end_with_parent, daemon=True).start()
    import pipeline.examine  # noqa: F401 - should memory end meanwhile, the pool is broken, as it is at any later time
    from schemas.kinds import all_kinds

    all_kinds()
    _keep_memory()
    gc.freeze()  # what is loaded stays: to look through it again and again would take a twentieth of the reading


def _keep_memory() -> None:
    """Have memory of middling pieces kept for the next rows: the system clears what it gives, for a tenth of the reading.

    Where the C library is another than GNU's nothing is done.
    """
    with suppress(OSError, AttributeError, TypeError):
        mallopt = ctypes.CDLL(None).mallopt
        mallopt(M_MMAP_THRESHOLD, KEPT)
        mallopt(M_TRIM_THRESHOLD, 2 * KEPT)


def _end_with_parent() -> None:
    """A run that is killed cannot tell its reader to end."""
    from multiprocessing import parent_process

    parent = parent_process()
    if parent is not None:
        parent.join()
        os._exit(1)


def read_drop(path: Path, blank: "Staged", mapping: bytes, zone: str, names: "Names") -> "Staged":
    """The same in this process."""
    from pipeline import examine
    from pipeline.intake.mapping import parse_mapping
    from schemas.kinds import all_kinds

    kinds = all_kinds()
    return examine.examine(path, blank, parse_mapping(blank.partner, mapping, kinds), kinds, zone, names)
