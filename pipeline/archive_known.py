"""Which version of an archive was published last, wherever that is still known: no number is ever given twice.

It is kept beside the archive (`known.parquet`), which back-ups hold too; made again from the archive itself where that
stands; and its number alone is noted beside the projection, so that a deleted `out/` does not start from 1 again.
"""

import json
import re
import zipfile
from collections.abc import Mapping
from pathlib import Path

from pipeline import disk
from pipeline.archive import pack, versions
from pipeline.archive.columns import TABLES
from pipeline.archive.eml import as_unnumbered
from pipeline.archive_away import KNOWN
from pipeline.errors import BadUsage

ABOUT, ZIP, NOTE = "about.json", "archive.zip", "archived.json"
FIGURES = "indicators"
_NUMBER, _DIGEST = (
    re.compile(rb'packageId="[^"]*/v(\d+)"'),
    re.compile(rb"Digest of what stands in the tables: (\w{64})"),
)


def rows_said(texts: Mapping[str, bytes], words: bytes) -> tuple[versions.Known, str]:
    """Every row of a version, and the digest of those of its tables. words: its EML, as of no version."""
    keys = {t.name: t.names.index(t.key) for t in TABLES} | {FIGURES: 0}
    rows = versions.rows_of({name: (texts[name], at) for name, at in keys.items()})
    digest = versions.digest_of(rows)
    return rows | {("eml", pack.EML): versions.digest_of({("eml", ""): words.decode()})}, digest


def version_before(into: Path, note: Path | None) -> tuple[versions.Version, list[str]]:
    """What was published last from a folder, and what to beware of. note: where its number is noted elsewhere.

    BadUsage where something was published and it cannot be told what.
    """
    kept, said = into / KNOWN, []
    before = versions.from_parquet(kept.read_bytes()) if kept.is_file() else None
    if before is None and (kept.is_file() or (into / ABOUT).is_file() or (into / ZIP).is_file()):
        before = _made_again(into)
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
        before = versions.Version(noted, "", before.known)
    return before, said


def note_version(note: Path, version: versions.Version) -> None:
    """Note the number where a deleted folder of the archive does not take it along."""
    disk.make_folder(note.parent)
    disk.replace(note, (json.dumps({"version": version.number}) + "\n").encode())


def _noted(note: Path) -> int:
    try:
        return int(json.loads(note.read_text(encoding="utf-8"))["version"])
    except (OSError, ValueError, TypeError, KeyError):
        return 0


def _made_again(into: Path) -> versions.Version | None:
    """The version that the archive in a folder tells of, where its tables are those that its EML was written of."""
    try:
        with zipfile.ZipFile(into / ZIP) as z:
            texts, told = {t.name: z.read(t.file) for t in TABLES}, z.read(pack.EML)
        texts[FIGURES] = (into / "tables" / f"{FIGURES}.csv").read_bytes()
        number, digest = _NUMBER.search(told), _DIGEST.search(told)
        if number is None or digest is None:
            return None
        rows, found = rows_said(texts, as_unnumbered(told, int(number[1]), digest[1].decode()))
    except (OSError, zipfile.BadZipFile, KeyError, ValueError, IndexError):
        return None
    return versions.Version(int(number[1]), versions.digest_of(rows), rows) if found == digest[1].decode() else None
