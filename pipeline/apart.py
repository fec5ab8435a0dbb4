"""A big drop is read in a process of its own: should it be too much for the machine, only that process ends."""

import os
from concurrent.futures import ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from multiprocessing import get_context
from pathlib import Path

from pipeline import examine
from pipeline.intake.mapping import parse_mapping
from pipeline.intake.names import Names
from pipeline.ledger.staging import Staged
from schemas.kinds import all_kinds

BIG = 32 << 20  # bytes; below it a process of its own would take longer to start than the reading takes


def examine_drop(path: Path, blank: Staged, mapping: bytes, zone: str, names: Names) -> Staged:
    """Read the kept bytes at `path` into `blank`; MemoryError when they are too much. mapping: the partner's TOML."""
    if blank.size < BIG:
        return read_drop(path, blank, mapping, zone, names)
    with ProcessPoolExecutor(1, get_context("spawn"), initializer=_silently) as pool:
        try:
            return pool.submit(read_drop, path, blank, mapping, zone, names).result()
        except BrokenProcessPool as e:
            raise MemoryError("the process that read it was ended by the system") from e


def _silently() -> None:
    """What libraries cry out when memory ends is nothing for a person; the run says it in a sentence."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), 2)


def read_drop(path: Path, blank: Staged, mapping: bytes, zone: str, names: Names) -> Staged:
    """The same in this process."""
    kinds = all_kinds()
    return examine.examine(path, blank, parse_mapping(blank.partner, mapping, kinds), kinds, zone, names)
