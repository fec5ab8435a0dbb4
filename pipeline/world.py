"""What the world may do to a run, told as a plain sentence: a full disk, a read-only folder, too little memory.

Every write is all or nothing, so each of these leaves the programme as it was: the next run goes on.
"""

import errno
import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager

from pipeline.errors import Hindered

FULL = (errno.ENOSPC, errno.EDQUOT, errno.EFBIG)
FORBIDDEN = (errno.EROFS, errno.EACCES, errno.EPERM)
AFTERWARDS = "Nothing was left half done: run again afterwards."


@contextmanager
def plainly() -> Iterator[None]:
    """Hindered, with a sentence that says where and what to do, instead of what the system raised."""
    try:
        yield
    except (BrokenPipeError, InterruptedError):
        raise
    except OSError as e:
        raise Hindered(_of_the_system(e)) from e
    except Exception as e:
        if is_memory(e):
            raise Hindered(
                f"There is too little memory to go on. Close other programs or add memory. {AFTERWARDS}"
            ) from e
        if code := _code_in(e):
            raise Hindered(_of_the_system(OSError(code, os.strerror(code)))) from e
        raise


def is_memory(e: BaseException) -> bool:
    """Whether this says that memory ran out."""
    return isinstance(e, MemoryError) or _is_duckdb(e, "OutOfMemoryException")


def is_worlds(e: BaseException) -> bool:
    """Whether the fault is the machine's, and so tells nothing about the data that was being read."""
    return (isinstance(e, OSError) and e.errno is not None) or is_memory(e) or bool(_code_in(e))


def _code_in(e: BaseException) -> int:
    """The system's code that DuckDB's sentence repeats in words, 0 when it speaks of the file itself."""
    if not _is_duckdb(e, "IOException"):
        return 0
    return next((code for code in (*FULL, *FORBIDDEN) if os.strerror(code) in str(e)), 0)


def _is_duckdb(e: BaseException, name: str) -> bool:
    """By its class, without loading DuckDB: who has not loaded it cannot have met its faults."""
    duckdb = sys.modules.get("duckdb")
    return duckdb is not None and isinstance(e, getattr(duckdb, name))


def _of_the_system(e: OSError) -> str:
    where = f" ({e.filename})" if e.filename else ""
    if e.errno in FULL:
        return f"The disk is full{where}. Make room. {AFTERWARDS}"
    if e.errno in FORBIDDEN:
        return f"This run may not write or read there{where}: {e.strerror}. Have that changed. {AFTERWARDS}"
    return f"The disk did not do what was asked{where}: {e.strerror or e}. {AFTERWARDS}"
