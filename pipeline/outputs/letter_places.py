"""Where letters lie below a programme's folder."""

import re
from pathlib import PurePosixPath


def letter_place(partner: str, number: int, name: str) -> str:
    """Where a receipt's letter is, from the programme's folder: out/letters/<partner>/<receipt>-<file>.txt.

    A partner's file name is never used as a path: only its plain letters and digits are.
    """
    plain = re.sub(r"[^A-Za-z0-9._-]+", "_", PurePosixPath(name).stem)[:60].strip("._") or "file"
    return f"out/letters/{partner}/{number:06d}-{plain}.txt"
