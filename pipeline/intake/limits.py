"""How much one file may ask of us. Far above honest files; each refusal says what was met and what to do."""

from pathlib import Path

from pipeline.intake.sheet import Unreadable

MOST_BYTES = 64 << 30
WORKBOOK_BYTES = 256 << 20
WORKBOOK_EXPANDED = 1 << 30  # bytes of everything packed in a workbook
WORKBOOK_MEMORY = 2 << 30  # address space of the process that opens one
WORKBOOK_SECONDS, PER_MEGABYTE = 20, 3  # of computing: many times what honest workbooks need
WORKBOOK_PARTS = 20_000
MOST_SHEETS = 256
MOST_COLUMNS = 16_384  # a spreadsheet has no more
MOST_ROWS = 200_000_000
LONGEST_CELL = 1 << 20  # characters
LONGEST_LINE = 4 << 20
COLUMN_CHUNK = 1 << 30  # bytes that one column of a Parquet row group may unfold to
BATCH = 60_000
BATCH_CELLS = 3_000_000


def batch_rows(width: int) -> int:
    """How many rows are handled at once: a wide sheet must not need more memory than a long one."""
    return max(1, min(BATCH, BATCH_CELLS // max(width, 1)))


def workbook_seconds(path: Path) -> int:
    """How long the process that opens a workbook may compute."""
    return WORKBOOK_SECONDS + PER_MEGABYTE * (path.stat().st_size >> 20)


def check_size(path: Path, most: int, cure: str) -> None:
    """Unreadable when the file is bigger than is read."""
    size = path.stat().st_size
    if size > most:
        raise Unreadable(f"it is {size / (1 << 20):,.0f} MB big, and at most {most >> 20:,} MB are read; {cure}")


def check_width(width: int) -> None:
    """Unreadable when there are more columns than any spreadsheet has."""
    if width > MOST_COLUMNS:
        raise Unreadable(
            f"it has {width:,} columns, and at most {MOST_COLUMNS:,} are read; hand it in as several tables"
        )


def check_rows(rows: int) -> None:
    """Unreadable when there are more rows than are read."""
    if rows > MOST_ROWS:
        raise Unreadable(f"it has more than {MOST_ROWS:,} rows; hand it in as several files")
