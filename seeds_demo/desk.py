"""The desk on which the partners' files are written, night by night, a row at a time; it also keeps the count.

Nothing but the open files and the counts is kept in memory, so that a programme of any size can be written.
"""

import datetime as dt
import shutil
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any, TextIO

from seeds_demo.forms import Form, Hand, Values

FIRST_NIGHT_UP_TO = dt.date(2023, 12, 31)
NIGHTS = 3
BATCH = 5_000  # rows of a Parquet file kept before they are written


@dataclass
class Tally:
    """What must become of one file when it is taken in: how many parts enter, are known already, or are held and why."""

    night: int
    partner: str
    file: str
    rows: int = 0
    entered: int = 0
    amended: int = 0
    repeated: int = 0
    held: int = 0
    asked: int = 0
    why: Counter[str] = field(default_factory=Counter)

    def plain(self) -> dict[str, Any]:
        """As plain values in one order."""
        return {**asdict(self), "why": dict(sorted(self.why.items()))}


@dataclass
class Twist:
    """Something the story does to rows of one form: what is first written instead, what later, how it is judged.

    when    which rows, by the values of their first part; at most `left` of them.
    first   what is written on the row's own night; the next night's cumulative file brings the right values.
    always  what is written whenever the row is.
    twin    a second row that contradicts the first in the same file, so that both are held.
    gone    the next night's cumulative file lacks the row.
    skip    the row is written nowhere.
    """

    form: str
    when: Callable[[Values], bool]
    left: int = 1
    first: Callable[[Values], Values] | None = None
    always: Callable[[Values], Values] | None = None
    twin: Callable[[Values], Values] | None = None
    gone: bool = False
    skip: bool = False


class Desk:
    """Writes rows into root/night-N/<partner>/<file>. With `nights` false everything comes on the first, untwisted."""

    def __init__(self, root: Path, nights: bool, twists: Sequence[Twist] = ()) -> None:
        self.root, self.nights = root, nights
        self.tallies: dict[tuple[int, str, str], Tally] = {}
        self.mended_parts: Counter[tuple[str, str]] = Counter()  # of (partner, file): what a mended mapping changes
        self._writers: dict[tuple[int, str, str], _Sheet] = {}
        self._twists: dict[str, list[Twist]] = {}
        for twist in twists if nights else ():
            self._twists.setdefault(twist.form, []).append(twist)

    def put(self, hand: Hand, form: Form, values: Values | Sequence[Values | None], day: dt.date) -> None:
        """One row that happened on that day: into its night's file and, if it is cumulative, the next night's."""
        parts = [values] if isinstance(values, Mapping) else list(values)
        twist = self._twist(hand, form, parts)
        if twist is not None and twist.skip:
            return
        if twist is not None and twist.always:
            parts = [twist.always(parts[0] or {}), *parts[1:]]
        night = self.night_of(day)
        if twist is not None and twist.twin:
            for said in (parts[0] or {}, twist.twin(parts[0] or {})):
                self.write(hand, form, said, night, held=1, why="conflict")
            return
        first = [twist.first(parts[0] or {}), *parts[1:]] if twist is not None and twist.first else parts
        self.write(hand, form, first, night)
        if not (form.cumulative and self.nights and night == 1):
            return
        if twist is not None and twist.gone:
            self.tally(hand, form, 2).asked += sum(p is not None for p in parts)
        elif twist is not None and twist.first:
            self.write(hand, form, parts, 2, amended=1)
        else:
            self.write(hand, form, parts, 2, repeated=sum(p is not None for p in parts))

    def night_of(self, day: dt.date) -> int:
        """On which night news of that day is handed in."""
        return 1 if not self.nights or day <= FIRST_NIGHT_UP_TO else 2

    def write(
        self, hand: Hand, form: Form, values: Values | Sequence[Values | None], night: int, *,
        amended: int = 0, repeated: int = 0, held: int = 0, why: str = "",
    ) -> None:  # fmt: skip
        """One row into one night's file, and what must become of its parts; what is not said otherwise enters."""
        parts = [values] if isinstance(values, Mapping) else list(values)
        tally = self.tally(hand, form, night)
        tally.rows += 1
        tally.amended += amended
        tally.repeated += repeated
        tally.held += held
        tally.entered += sum(p is not None for p in parts) - repeated - held
        if why:
            tally.why[why] += held
        sheet = self._writers.get((night, hand.partner, form.named(night)))
        if sheet is None:
            sheet = self._open(hand, form, night)
        sheet.add(hand.row(form, parts))

    def tally(self, hand: Hand, form: Form, night: int) -> Tally:
        """The count of one file."""
        key = (night, hand.partner, form.named(night))
        if key not in self.tallies:
            self.tallies[key] = Tally(*key)
        return self.tallies[key]

    def copy(self, hand: Hand, form: Form, night: int, name: str) -> None:
        """The first night's file again, byte for byte, under another name: nothing may come of it."""
        self._writers[1, hand.partner, form.named(1)].close()
        target = self.root / f"night-{night}" / hand.partner / name
        target.parent.mkdir(parents=True, exist_ok=True)
        shutil.copyfile(self.root / "night-1" / hand.partner / form.named(1), target)

    def close(self) -> None:
        """Finish every file."""
        for sheet in self._writers.values():
            sheet.close()

    def _twist(self, hand: Hand, form: Form, parts: Sequence[Values | None]) -> Twist | None:
        for twist in self._twists.get(f"{hand.partner}/{form.file}", ()):
            if twist.left and parts[0] is not None and twist.when(parts[0]):
                twist.left -= 1
                return twist
        return None

    def _open(self, hand: Hand, form: Form, night: int) -> "_Sheet":
        path = self.root / f"night-{night}" / hand.partner / form.named(night)
        path.parent.mkdir(parents=True, exist_ok=True)
        sheet = _Parquet(path, form) if hand.encoding == "parquet" else _Text(path, hand, form)
        self._writers[night, hand.partner, form.named(night)] = sheet
        return sheet


class _Sheet:
    def add(self, cells: dict[str, Any]) -> None:
        raise NotImplementedError

    def close(self) -> None:
        raise NotImplementedError


class _Text(_Sheet):
    """A delimited text file."""

    def __init__(self, path: Path, hand: Hand, form: Form) -> None:
        self.hand, self.headings = hand, form.headings
        self.file: TextIO = path.open("w", encoding=hand.encoding, newline="")
        if form.title:  # a spreadsheet pads its title line to the width of the table
            self._line([form.title] + [""] * (len(self.headings) - 1))
        self._line(self.headings)

    def add(self, cells: dict[str, Any]) -> None:
        self._line([cells.get(h, "") for h in self.headings])

    def _line(self, cells: Sequence[str]) -> None:
        mark = self.hand.delimiter
        written = [f'"{c.replace(chr(34), chr(34) * 2)}"' if mark in c or '"' in c else c for c in cells]
        self.file.write(mark.join(written) + self.hand.newline)

    def close(self) -> None:
        self.file.close()


class _Parquet(_Sheet):
    """A Parquet file with typed columns: plain, uncompressed, so that its bytes depend on nothing else."""

    def __init__(self, path: Path, form: Form) -> None:
        import pyarrow as pa
        import pyarrow.parquet as pq

        from schemas.kinds import all_kinds

        kinds, types = all_kinds(), {}
        plain = {"text": pa.string(), "whole": pa.int32(), "decimal": pa.float64(), "day": pa.date32(),
                 "instant": pa.timestamp("us"), "yesno": pa.bool_()}  # fmt: skip
        for part in form.parts:
            for column, heading in part.columns.items():
                types[heading] = plain[kinds[part.kind].column(column).type]
        self.schema = pa.schema([(h, types[h]) for h in form.headings])
        self.floats = [h for h in form.headings if types[h] == pa.float64()]
        self.rows: list[dict[str, Any]] = []
        self.writer = pq.ParquetWriter(path, self.schema, compression="none", use_dictionary=False, store_schema=False)

    def add(self, cells: dict[str, Any]) -> None:
        for heading in self.floats:
            if cells.get(heading) is not None:
                cells[heading] = float(cells[heading])
        self.rows.append(cells)
        if len(self.rows) == BATCH:
            self._flush()

    def _flush(self) -> None:
        import pyarrow as pa

        self.writer.write_table(pa.Table.from_pylist(self.rows, self.schema))
        self.rows.clear()

    def close(self) -> None:
        if self.rows:
            self._flush()
        self.writer.close()
