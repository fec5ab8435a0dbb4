"""Which version of an archive was published last, wherever that is still known: no number is ever given twice.

It is kept beside the archive (`known.parquet`), which back-ups hold too; made again from the archive itself where that
stands; and its number alone is noted beside the projection, so that a deleted `out/` does not start from 1 again.
"""

import json
import re
import zipfile
import zlib
from collections.abc import Iterator, Mapping
from contextlib import ExitStack
from pathlib import Path
from typing import IO

import pyarrow as pa

from pipeline import disk
from pipeline.archive import pack, versions
from pipeline.archive.columns import TABLES
from pipeline.archive.eml import as_unnumbered
from pipeline.archive_away import KNOWN
from pipeline.errors import BadUsage

ABOUT, ZIP, NOTE = "about.json", "archive.zip", "archived.json"
FIGURES, FIGURE = "indicators", "figureID"
_NUMBER, _DIGEST = (
    re.compile(rb'packageId="[^"]*/v(\d+)"'),
    re.compile(rb"Digest of what stands in the tables: (\w{64})"),
)


def rows_said(texts: Mapping[str, IO[bytes]], words: bytes, to: IO[bytes]) -> tuple[str, str]:
    """Write every row of a version into a file; gives the digest of those of its tables, and that of all.

    texts: the tables' own, by name. words: its EML, as of no version.
    """
    keys = {t.name: t.key for t in TABLES} | {FIGURES: FIGURE}
    standing, whole = versions.Digest(), versions.Digest()
    of_words = versions.digest_of([_row("eml", "", words.decode())])

    def every() -> Iterator[pa.RecordBatch]:
        first = _row("eml", pack.EML, of_words)
        whole.add(first)
        yield first
        for name in sorted(keys):
            rows: versions.Rows = versions.rows_of(name, texts[name], keys[name])
            if name == FIGURES:  # the only text that is not in order of its identifiers
                rows = pa.Table.from_batches(rows, versions.ROWS).sort_by("id").to_batches()
            for batch in rows:
                standing.add(batch)
                whole.add(batch)
                yield batch

    versions.write_rows(every(), to)
    return str(standing), str(whole)


def _row(*cells: str) -> pa.RecordBatch:
    return pa.record_batch([pa.array([cell]) for cell in cells], schema=versions.ROWS)


def version_before(into: Path, note: Path | None, room: Path, opened: ExitStack) -> tuple[versions.Version, list[str]]:
    """What was published last from a folder, and what to beware of. note: where its number is noted elsewhere.

    room: a folder to work in. opened: closes the file in which the version's rows lie.

    BadUsage where something was published and it cannot be told what.
    """
    kept, said = into / KNOWN, []
    before = versions.read_version(opened.enter_context(kept.open("rb"))) if kept.is_file() else None
    if before is None and (kept.is_file() or (into / ABOUT).is_file() or (into / ZIP).is_file()):
        before = _made_again(into, room, opened)
        if before is None and (kept.is_file() or (into / ABOUT).is_file()):  # put last: else a first export was stopped
            raise BadUsage(
                f"{kept} {'cannot be read' if kept.is_file() else 'is missing'}, and the archive beside it does not tell it: it "
                "holds which version was published last, so that no number is given twice and what was withdrawn is told of. "
                f"Restore it from a back-up; or delete all of {into}, after which numbers go on and everything is told as new. "
                "Nothing was written."
            )
        if before is not None:
            said.append(
                f"{KNOWN} was gone or not readable: it was made again from the archive of version {before.number}."
            )
    before, noted = before or versions.NOTHING, _noted(note) if note else 0
    if before.number < noted:
        said.append(
            f"Version {noted} was published, and {KNOWN} tells of {f'version {before.number}' if before.number else 'none'}: numbers go "
            "on, and changes.csv tells of what changed since that one. A copy in a back-up may know more."
        )
        before = versions.Version(noted, "", before.file)
    return before, said


def note_version(note: Path, number: int) -> None:
    """Note the number where a deleted folder of the archive does not take it along."""
    disk.make_folder(note.parent)
    disk.replace(note, (json.dumps({"version": number}) + "\n").encode())


def _noted(note: Path) -> int:
    try:
        return int(json.loads(note.read_text(encoding="utf-8"))["version"])
    except (OSError, ValueError, TypeError, KeyError):
        return 0


def _made_again(into: Path, room: Path, opened: ExitStack) -> versions.Version | None:
    """The version that the archive in a folder tells of, where its tables are those that its EML was written of."""
    rows = opened.enter_context((room / "before.parquet").open("w+b"))
    try:
        with zipfile.ZipFile(into / ZIP) as z, ExitStack() as read:
            texts: dict[str, IO[bytes]] = {t.name: read.enter_context(z.open(t.file)) for t in TABLES}
            texts[FIGURES] = read.enter_context((into / "tables" / f"{FIGURES}.csv").open("rb"))
            told = z.read(pack.EML)
            number, digest = _NUMBER.search(told), _DIGEST.search(told)
            if number is None or digest is None:
                return None
            found, whole = rows_said(texts, as_unnumbered(told, int(number[1]), digest[1].decode()), rows)
    except (OSError, zipfile.BadZipFile, zlib.error, KeyError, ValueError):
        return None
    return versions.Version(int(number[1]), whole, rows) if found == digest[1].decode() else None
