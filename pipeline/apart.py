"""A big drop is read in a process of its own: should it be too much for the machine, only that process ends."""

import gc
import os
from concurrent.futures import ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from multiprocessing import get_context
from pathlib import Path
from typing import TYPE_CHECKING

from pipeline.ledger.staging import Staged

if TYPE_CHECKING:  # loaded where the drop is read
    from pipeline.intake.names import Names

BIG = 32 << 20  # bytes; below it a process of its own would take longer to start than the reading takes


def examine_drop(path: Path, blank: Staged, mapping: bytes, zone: str, names: "Names") -> Staged:
    """Read the kept bytes at `path` into `blank`; MemoryError when they are too much. mapping: the partner's TOML."""
    if blank.size < BIG:
        return read_drop(path, blank, mapping, zone, names)
    with ProcessPoolExecutor(1, get_context("spawn"), initializer=_ready) as pool:
        try:
            return pool.submit(read_drop, path, blank, mapping, zone, names).result()
        except BrokenProcessPool as e:
            raise MemoryError("the process that read it was ended by the system") from e


def _ready() -> None:
    """Load what reading takes, here alone, and keep quiet.

    What libraries cry out when memory ends is nothing for a person; the run says it in a sentence.
    """
    os.dup2(os.open(os.devnull, os.O_WRONLY), 2)
    import pipeline.examine  # noqa: F401 - should memory end meanwhile, the pool is broken, as it is at any later time

    gc.freeze()  # what is loaded stays: to look through it again and again would take a twentieth of the reading


def read_drop(path: Path, blank: Staged, mapping: bytes, zone: str, names: "Names") -> Staged:
    """The same in this process."""
    from pipeline import examine
    from pipeline.intake.mapping import parse_mapping
    from schemas.kinds import all_kinds

    kinds = all_kinds()
    return examine.examine(path, blank, parse_mapping(blank.partner, mapping, kinds), kinds, zone, names)
