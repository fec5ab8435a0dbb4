"""A process of its own for one workbook: calamine needs the whole of a sheet in memory, so a hostile one ends only this.

    python -m pipeline.intake.workbook_process FILE              what is in it, as JSON
    python -m pipeline.intake.workbook_process FILE NUMBER MARK [COLUMN ...]   that sheet as CSV, typed numbers with
                                                                 that decimal mark; merged cells of these columns are
                                                                 written into every row they cover

It imports nothing heavy, limits its own memory and time, and ends with 3 and a sentence where the file is at fault.
"""

import csv
import datetime as dt
import io
import json
import sys
import zipfile
from collections.abc import Collection, Iterator
from contextlib import suppress
from decimal import Decimal
from pathlib import Path
from typing import Any

from pipeline.intake.limits import MOST_COLUMNS, MOST_ROWS, MOST_SHEETS, WORKBOOK_MEMORY, workbook_seconds
from pipeline.intake.sheet import HEAD
from pipeline.intake.workbook_marks import Cells, Range, marks_of, odd_parts, parts_of
from pipeline.intake.workbook_old import old_marks
from pipeline.intake.workbook_percents import Percents, is_percent, percent_styles, percents_of

FAULTY = 3
MOST_ODD = 200_000  # cells under merged ones, formulas without a value


class _Refused(Exception):
    pass


def main(arguments: list[str]) -> None:
    """Tell what is in a workbook, or write one of its sheets to standard output."""
    path = Path(arguments[0])
    _limit_ourselves(workbook_seconds(path))
    try:
        book = _Book(path)
        if len(arguments) == 1:
            told = json.dumps(book.told(), ensure_ascii=False)
        else:
            told = ""
            book.mark = arguments[2]
            book.write(int(arguments[1]), {int(a) for a in arguments[3:]})
    except (MemoryError, SystemExit, KeyboardInterrupt):
        raise
    except _Refused as e:
        _refuse(str(e))
    except BaseException as e:  # a library's panic is no Exception
        _refuse(_reason(e))
    sys.stdout.write(told)


def _refuse(why: str) -> None:
    sys.stderr.write("\n" + why)
    sys.stderr.flush()
    raise SystemExit(FAULTY)


def _reason(e: BaseException) -> str:
    if type(e).__name__ == "PasswordError" or "assword" in str(e) or "ncrypt" in str(e):
        return "it is locked with a password; save it without one and hand it in again"
    return (
        f"it is no workbook that can be opened, or it is damaged ({' '.join(str(e).split())[:200] or type(e).__name__})"
    )


def _limit_ourselves(seconds: int) -> None:
    with suppress(ImportError, ValueError, OSError):  # systems without such limits
        import resource

        resource.setrlimit(resource.RLIMIT_AS, (WORKBOOK_MEMORY, WORKBOOK_MEMORY))
        resource.setrlimit(resource.RLIMIT_CPU, (seconds, seconds + 5))
        resource.setrlimit(resource.RLIMIT_CORE, (0, 0))


class _Book:
    """A workbook opened by calamine, with what calamine does not tell."""

    mark = "."  # of decimals
    _last: tuple[int, Any] = (-1, None)

    def __init__(self, path: Path) -> None:
        from python_calamine import CalamineWorkbook, SheetTypeEnum, SheetVisibleEnum

        data = path.read_bytes()
        self.cells: dict[int, Cells] = {}
        self.merged: dict[int, list[Range]] = {}
        self.percents: dict[int, Percents] = {}
        self.path = path
        self.parts: dict[str, str] = {}  # of Excel: sheet name -> its XML
        self.styles: dict[str, str] = {}  # and number of a style -> its format, where that is of percentages
        if data[:2] == b"PK":  # looked through before calamine, which may follow a damaged file for ever
            with zipfile.ZipFile(path) as packed:
                odd = odd_parts(packed)
                self.book = CalamineWorkbook.from_filelike(io.BytesIO(data))
                self.cells, self.merged, self.percents = marks_of(packed, self.book.sheet_names, odd)
                self.parts, self.styles = parts_of(packed), percent_styles(packed)
        else:
            self.cells, self.percents = old_marks(data)
            self.book = CalamineWorkbook.from_filelike(io.BytesIO(data))
        metadata = self.book.sheets_metadata
        if len(metadata) > MOST_SHEETS:
            raise _Refused(
                f"it has {len(metadata)} sheets, and at most {MOST_SHEETS} are read; hand it in as several files"
            )
        self.sheets = [
            (n, m.name, m.visible != SheetVisibleEnum.Visible)
            for n, m in enumerate(metadata)
            if m.typ == SheetTypeEnum.WorkSheet
        ]

    def told(self) -> list[dict[str, Any]]:
        """Every sheet of cells: number, name, hidden, height, width, head, merged."""
        made = []
        for number, name, hidden in self.sheets:
            height, width, rows = self._grid(number, HEAD)
            head = [row for row, _ in zip(rows, range(HEAD), strict=False)]
            merged = self._ranges(number, height, width)
            unworked = [place for place, text in self.cells.get(number, {}).items() if text.startswith("=")]
            if len(unworked) > MOST_ODD:
                raise _Refused(
                    f"sheet “{name}” has formulas that were never worked out; open it in your program and save it"
                )
            _fill(head, [r for r in merged if r[0] <= HEAD])
            made.append({"number": number, "name": name, "hidden": hidden, "height": height, "width": width,
                         "head": head, "merged": merged, "unworked": unworked})  # fmt: skip
        return made

    def write(self, number: int, columns: set[int]) -> None:
        """One sheet as CSV, every row of it from row 1, to standard output."""
        height, width, rows = self._grid(number, MOST_ROWS)
        assert isinstance(sys.stdout, io.TextIOWrapper)
        sys.stdout.reconfigure(encoding="utf-8", errors="replace", newline="")
        out = csv.writer(sys.stdout, lineterminator="\n")
        covered = _covered(self._ranges(number, height, width), columns)
        spoken: dict[int, str] = {}  # column -> the text of the merged cell that is open there
        for at, row in enumerate(rows, 1):
            for column in columns & covered.keys():
                if column < len(row) and at in covered[column]:
                    row[column] = spoken.get(column, "")
                elif column < len(row):
                    spoken[column] = row[column]
            out.writerow(row)
        sys.stdout.flush()

    def _sheet(self, number: int) -> Any:
        """A sheet as calamine lays it out; only the last one is kept."""
        if self._last[0] != number:
            self._last = (number, None)
            self._last = (number, self.book.get_sheet_by_index(number))
        return self._last[1]

    def _shown_as_percent(self, number: int, last_row: int) -> Percents:
        part = self.parts.get(self.book.sheet_names[number])
        if not self.styles or part is None:
            return self.percents.get(number, Percents())
        with zipfile.ZipFile(self.path) as packed:
            return percents_of(packed, part, self.styles, last_row)

    def _grid(self, number: int, last_row: int) -> tuple[int, int, Iterator[list[str]]]:
        """Height, width and the rows of texts of a sheet, from its first row and column. last_row: none below it is asked for."""
        sheet = self._sheet(number)
        extra = self.cells.get(number, {})
        bottom, right = sheet.end or (-1, -1)  # total_height and total_width fall short where the first cells are blank
        height, width = max([bottom + 1, *(r for r, _ in extra)]), max([right + 1, *(c + 1 for _, c in extra)])
        if width > MOST_COLUMNS:
            raise _Refused(f"sheet {number + 1} has {width:,} columns, and at most {MOST_COLUMNS:,} are read")
        return height, width, self._rows(sheet, extra, self._shown_as_percent(number, last_row), height, width)

    def _rows(self, sheet: Any, extra: Cells, percents: Percents, height: int, width: int) -> Iterator[list[str]]:
        by_row: dict[int, list[tuple[int, str]]] = {}
        for (at, column), text in extra.items():
            by_row.setdefault(at, []).append((column, text))
        rows = sheet.iter_rows() if sheet.end else iter(())  # from row 1, but without the blank columns at the left
        left = [""] * (sheet.start[1] if sheet.start else 0)
        for at in range(1, height + 1):
            cells = next(rows, ())
            row: list[str] = [*left, *(_text(c, self.mark) for c in cells)][:width]
            row += [""] * (width - len(row))
            for column, code in percents.in_row(at):
                cell = cells[column - len(left)] if 0 <= column - len(left) < len(cells) else None
                if isinstance(cell, int | float) and not isinstance(cell, bool) and is_percent(code, cell):
                    row[column] = _number(cell, self.mark, 2) + "%"
            for column, text in by_row.get(at, ()):
                if not row[column]:
                    row[column] = text
            yield row

    def _ranges(self, number: int, height: int, width: int) -> list[Range]:
        """The merged cells as far as the sheet goes."""
        found = self.merged.get(number, [])
        told = self._sheet(number).merged_cell_ranges or []
        found = found + [(a[0] + 1, a[1], b[0] + 1, b[1]) for a, b in told]
        found = [(a, b, min(c, height), min(d, width - 1)) for a, b, c, d in found if a <= height and b < width]
        if sum((c - a + 1) * (d - b + 1) for a, b, c, d in found) > MOST_ODD:
            raise _Refused(f"sheet {number + 1} has more merged cells than are read; unmerge them")
        return sorted(found)


def _covered(merged: list[Range], columns: Collection[int]) -> dict[int, set[int]]:
    """Column -> the rows in which a merged cell that begins above covers it."""
    rows: dict[int, set[int]] = {}
    for top, left, bottom, _ in merged:
        if left in columns and bottom > top:
            rows.setdefault(left, set()).update(range(top + 1, bottom + 1))
    return rows


def _fill(head: list[list[str]], merged: list[Range]) -> None:
    """Headings merged over several rows stand in each of them."""
    for top, left, bottom, _ in merged:
        for row in range(top, min(bottom, len(head))):
            if not head[row][left]:
                head[row][left] = head[top - 1][left]


def _text(cell: Any, mark: str) -> str:
    """A typed cell as our own text. Numbers to 15 digits, as every spreadsheet shows them."""
    if isinstance(cell, str):
        return cell
    if isinstance(cell, bool):
        return "true" if cell else "false"
    if isinstance(cell, int | float):
        return _number(cell, mark)
    if isinstance(cell, dt.datetime):
        return cell.isoformat(sep=" ")
    if isinstance(cell, dt.timedelta):
        seconds = round(cell.total_seconds())
        hours, rest = divmod(abs(seconds), 3600)
        return f"{'-' if seconds < 0 else ''}{hours}:{rest // 60:02}:{rest % 60:02}"
    return str(cell.isoformat())


def _number(cell: float, mark: str, places: int = 0) -> str:
    """A typed number; its point moved so many places to the right."""
    if isinstance(cell, int) and not places:
        return str(cell)
    if not abs(cell) < 1e300:  # inf and nan too
        return str(cell)
    exact = Decimal(f"{cell:.15g}")
    short = format(exact.scaleb(places) if places else exact, "f")
    return short.rstrip("0").rstrip(".").replace(".", mark) if "." in short else short


if __name__ == "__main__":
    main(sys.argv[1:])
