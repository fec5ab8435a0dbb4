"""A big drop is read in a process of its own: should it be too much for the machine, only that process ends."""

import gc
import os
from pathlib import Path
from threading import Thread
from typing import TYPE_CHECKING

if TYPE_CHECKING:  # loaded where a drop is read; most nights bring none
    from concurrent.futures import ProcessPoolExecutor

    from pipeline.intake.names import Names
    from pipeline.ledger.staging import Staged

BIG = 32 << 20  # bytes; below it a process of its own would take longer to start than the reading takes


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
            return self._pool.submit(read_drop, path, blank, mapping, zone, names).result()
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

    gc.freeze()  # what is loaded stays: to look through it again and again would take a twentieth of the reading


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
