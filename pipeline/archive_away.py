"""What may no longer be published is taken out of out/archive; which identifiers and versions there were stays known."""

from pathlib import Path

from pipeline import disk
from pipeline.programme import open_programme

KNOWN = "known.parquet"


def take_archive_away(root: Path) -> bool:
    """Remove the last archive and what lies beside it; True when there was any."""
    folder = open_programme(root).places.out / "archive"
    gone = [p for p in sorted(folder.rglob("*")) if p.is_file() and p.name != KNOWN] if folder.is_dir() else []
    for path in gone:
        disk.remove(path)
    return bool(gone)
