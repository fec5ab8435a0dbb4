"""Workbooks (.xlsx, .xls, .ods): each sheet becomes the text of its cells, read like any other text.

What is packed in one is added up before anything is unpacked. It is then opened by a process of its own, which has
a limit of memory and time; that writes a sheet as plain CSV with every row from row 1, so that row numbers are those
the partner sees and both text readers serve.
"""

import errno
import json
import subprocess
import sys
import zipfile
import zlib
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import IO

from pipeline.intake.limits import (
    WORKBOOK_BYTES,
    WORKBOOK_EXPANDED,
    WORKBOOK_MEMORY,
    WORKBOOK_PARTS,
    check_size,
    workbook_seconds,
)  # fmt: skip
from pipeline.intake.sheet import WORKBOOK, Sheet, Spoiled, Tally, Unreadable
from pipeline.intake.workbook_process import FAULTY

ZIP, OLE = b"PK", b"\xd0\xcf\x11\xe0"
_ENCRYPTED = "EncryptedPackage".encode("utf-16-le")
_LOCKED = "it is locked with a password; save it without one and hand it in again"
AS_CSV = "save its sheets as CSV and hand those in"
_TOO_LONG = f"it takes too long to open; {AS_CSV}"
_CPU_TIME_OVER = 24  # the signal with which the system ends what has used up its time


def open_workbook(path: Path) -> list[Sheet]:
    """Every sheet with cells in it, in order. Unreadable when the file is damaged, locked, no workbook, or too much."""
    check_size(path, WORKBOOK_BYTES, AS_CSV)
    _refuse_at_sight(path)
    told = json.loads(_run(path))
    sheets = [
        Sheet(
            s["name"], path, [r if any(c.strip() for c in r) else [] for r in s["head"]], form=WORKBOOK,
            delimiter=",", doubtful=True, number=s["number"], height=s["height"], width=s["width"],
            hidden=s["hidden"], merged=tuple(map(tuple, s["merged"])), unworked=tuple(map(tuple, s["unworked"])),
            why=("A workbook: cells come with their types.",),
        )
        for s in told if s["height"]
    ]  # fmt: skip
    if not sheets:
        raise Unreadable("every sheet of the workbook is blank")
    if len({s.name for s in sheets}) < len(sheets):
        raise Unreadable("two of its sheets have the same name; rename one of them")
    return sheets


def as_text(sheet: Sheet, merged: Sequence[int], decimal: str, scratch: Path) -> Sheet:
    """The sheet as a text file in `scratch`. merged: columns whose merged cells speak for every row they cover.

    Typed numbers are written with the partner's decimal mark, so that cells which hold numbers as text read alike.
    """
    out = scratch / f"sheet-{sheet.number}.csv"
    with out.open("wb") as f:
        _run(sheet.path, str(sheet.number), decimal, *map(str, merged), to=f)
    return replace(sheet, path=out, encoding="utf-8", delimiter=",")


def note_doubts(sheet: Sheet, header_row: int, spoken: Sequence[int], tally: Tally) -> None:
    """Formulas never worked out, and rows below the first of a merged cell unless the mapping says that it speaks for all.

    Nobody but its owner knows whether a merged 12 is the count of each row or of all together.
    """
    tally.spoiled += [_unworked(row, column) for row, column in sheet.unworked if row > header_row]
    for top, left, bottom, right in sheet.merged:
        for row in range(max(top, header_row) + 1, bottom + 1):
            tally.spoiled += [_merged(row, column, top) for column in range(left, right + 1) if column not in spoken]


def unspoken(sheet: Sheet, header_row: int, spoken: Sequence[int]) -> bool:
    """Whether a merged cell covers a record below its first row and does not speak for it."""
    return any(
        bottom > max(top, header_row) and any(c not in spoken for c in range(left, right + 1))
        for top, left, bottom, right in sheet.merged
    )


def _unworked(row: int, column: int) -> Spoiled:
    return Spoiled(row, column, "formula without value", "a formula", "the value of the formula",
                   "Open the workbook in your spreadsheet program, save it and hand it in again.")  # fmt: skip


def _merged(row: int, column: int, top: int) -> Spoiled:
    return Spoiled(
        row, column, "merged cell", f"merged with row {top}", "a cell of its own in every row",
        "Unmerge the cells and write the value into each row; or tell the programme that one merged cell speaks for all its rows.",
    )  # fmt: skip


def _refuse_at_sight(path: Path) -> None:
    """Unreadable when it is locked, no workbook, or what is packed in it is too much: nothing is unpacked for that."""
    with path.open("rb") as f:
        if f.read(4) == OLE:
            f.seek(0)
            if _ENCRYPTED in f.read():
                raise Unreadable(_LOCKED)
            return
    try:
        with zipfile.ZipFile(path) as packed:
            parts = {p.filename: p for p in packed.infolist()}
            unfolded = sum(p.file_size for p in parts.values())
            if unfolded > WORKBOOK_EXPANDED or len(parts) > WORKBOOK_PARTS:
                size = f"{unfolded / (1 << 20):,.0f} MB in {len(parts)} parts"
                raise Unreadable(f"it would unfold to {size}, which is more than a workbook may; {AS_CSV}")
            manifest = "META-INF/manifest.xml"
            if manifest in parts:
                with packed.open(manifest) as told:
                    if b"encryption-data" in told.read(1 << 20):
                        raise Unreadable(_LOCKED)
    except Unreadable:
        raise
    except (zipfile.BadZipFile, zlib.error, NotImplementedError, ValueError, RuntimeError, OSError, EOFError) as e:
        if isinstance(e, OSError) and e.errno not in (None, errno.EINVAL):  # a place that the file itself names
            raise
        raise Unreadable(f"it is a damaged workbook or archive ({e})") from e
    if "xl/workbook.bin" in parts:
        raise Unreadable("it is a binary workbook (.xlsb), whose error cells nobody can see; save it as .xlsx")
    if not parts.keys() & {"xl/workbook.xml", "content.xml"}:
        raise Unreadable("it is a packed archive and no workbook; unpack it and hand in the tables")


def _run(path: Path, *arguments: str, to: IO[bytes] | int = subprocess.PIPE) -> bytes:
    command = [sys.executable, "-m", "pipeline.intake.workbook_process", str(path.resolve()), *arguments]
    home = Path(
        __file__
    ).parent.parent.parent  # never the folder we were called in: it may hold files named like modules
    try:
        done = subprocess.run(  # noqa: S603 - ourselves; the only foreign words are a path of the ledger and numbers
            command, stdin=subprocess.DEVNULL, stdout=to, stderr=subprocess.PIPE,
            timeout=60 * workbook_seconds(path), check=False, cwd=home,
        )  # fmt: skip
    except subprocess.TimeoutExpired as e:
        raise Unreadable(_TOO_LONG) from e
    if done.returncode == FAULTY:
        raise Unreadable(done.stderr.decode("utf-8", "replace").rpartition("\n")[2])
    if done.returncode == -_CPU_TIME_OVER:
        raise Unreadable(_TOO_LONG)
    if done.returncode:
        raise Unreadable(
            f"to open it needs more memory than a workbook may take ({WORKBOOK_MEMORY >> 30} GB); {AS_CSV}"
        )
    return done.stdout or b""
