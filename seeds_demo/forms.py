"""How a partner writes, stated once: its files are written from it, and its mapping (partners/<name>.toml) too."""

import datetime as dt
import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from decimal import ROUND_HALF_UP, Decimal
from typing import Any

Values = Mapping[str, Any]

# Unit of measure a partner writes in -> (multiply ours by, add, places kept).
_UNITS = {
    "cm2": (Decimal(10000), Decimal(0), 0),
    "ft": (1 / Decimal("0.3048"), Decimal(0), 1),
    "ft2": (1 / Decimal("0.09290304"), Decimal(0), 1),
    "in": (1 / Decimal("2.54"), Decimal(0), 1),
    "lb": (1 / Decimal("0.45359237"), Decimal(0), 1),
    "degF": (Decimal("1.8"), Decimal(32), 1),
}
_DAYS = {"YMD": "{0:04d}-{1:02d}-{2:02d}", "DMY.": "{2:02d}.{1:02d}.{0:04d}", "DMY/": "{2:02d}/{1:02d}/{0:04d}",
         "MDY/": "{1:02d}/{2:02d}/{0:04d}"}  # fmt: skip


@dataclass(frozen=True)
class Part:
    """What one row says of one kind: our column -> the partner's heading."""

    kind: str
    columns: Mapping[str, str]
    units: Mapping[str, str] = field(default_factory=dict)
    fixed: Mapping[str, str] = field(default_factory=dict)
    only_if: str = ""


@dataclass(frozen=True)
class Form:
    """One sort of file. `file` is its name, {years} filled in; `files` the pattern its mapping knows it by.

    cumulative: every later night brings the whole file again, longer. title: a line above the headings.
    own: it uses our own headings, so that it needs no mapping.
    """

    file: str
    parts: tuple[Part, ...]
    files: str = ""
    title: str = ""
    cumulative: bool = False
    own: bool = False

    @property
    def headings(self) -> list[str]:
        """The headings in the order of the sheet."""
        return list(dict.fromkeys(h for p in self.parts for h in p.columns.values()))

    def named(self, night: int) -> str:
        """The file's name on that night."""
        return self.file.replace("{years}", "2022-23" if night == 1 else "2024-25")


@dataclass(frozen=True)
class Hand:
    """A partner's way of writing. `words`: our column -> our word -> theirs. encoding "parquet": typed columns."""

    partner: str
    about: str
    forms: tuple[Form, ...]
    language: str = "en"
    delimiter: str = ","
    newline: str = "\n"
    encoding: str = "utf-8"
    decimal: str = "."
    thousands: str = ""
    dates: str = "YMD"
    blanks: tuple[str, ...] = ()
    words: Mapping[str, Mapping[str, str]] = field(default_factory=dict)

    def text(self, column: str, value: Any, unit: str = "") -> str:
        """A value of ours as this partner writes it."""
        if unit:
            value = convert(value, unit)
        if isinstance(value, bool):
            value = "yes" if value else "no"
        if isinstance(value, str):
            return self.words[column].get(value, value) if column in self.words else value
        if isinstance(value, int):
            return str(value)
        if isinstance(value, dt.datetime):
            return f"{self._day(value)} {value.hour:02d}:{value.minute:02d}"
        if isinstance(value, dt.date):
            return self._day(value)
        return self._number(value)

    def _day(self, day: dt.date) -> str:
        return _DAYS[self.dates].format(day.year, day.month, day.day)

    def _number(self, value: Decimal) -> str:
        written = f"{value:,f}" if self.thousands else f"{value:f}"
        return written.replace(".", self.decimal) if self.decimal != "." else written

    def row(self, form: Form, parts: Sequence[Values | None]) -> dict[str, Any]:
        """One row of the form by heading: texts, or typed values for Parquet. A part that is None stays blank."""
        cells: dict[str, Any] = {}
        for part, values in zip(form.parts, parts, strict=True):
            if values is None:
                continue
            for column, heading in part.columns.items():
                value = values.get(column)
                if self.encoding == "parquet":
                    cells[heading] = value
                elif value is not None:
                    cells[heading] = self.text(column, value, part.units.get(column, ""))
        return cells


def convert(value: Decimal | float, unit: str) -> Decimal:
    """A measure of ours in the partner's unit, rounded as a person would."""
    factor, added, places = _UNITS[unit]
    return (Decimal(str(value)) * factor + added).quantize(Decimal(1).scaleb(-places), ROUND_HALF_UP)


def mapping_text(hand: Hand) -> str:
    """The partner's TOML: what the files are read by."""
    lines = [f"# {line}" for line in hand.about.splitlines()]
    lines += ["", f"language = {_quoted(hand.language)}", f"decimal = {_quoted(hand.decimal)}"]
    lines += [f"thousands = {_quoted(hand.thousands)}"] if hand.thousands else []
    lines += [f"dates = {_quoted(hand.dates[:3])}"]
    lines += [f"blanks = [{', '.join(map(_quoted, hand.blanks))}]"] if hand.blanks else []
    for column, words in sorted(hand.words.items()):
        lines += ["", f"[codes.{column}]"]
        lines += [f"{_quoted(theirs)} = {_quoted(ours)}" for ours, theirs in words.items()]
    for form in hand.forms:
        if not form.own:
            lines += ["", "[[sheet]]", f"files = [{_quoted(form.files or form.file)}]"]
            alone = len(form.parts) == 1 and not form.parts[0].only_if
            for part in form.parts:
                lines += _part_lines(part, alone)
    return "\n".join(lines) + "\n"


def _part_lines(part: Part, alone: bool) -> list[str]:
    at = "sheet" if alone else "sheet.part"
    lines = [] if alone else ["", "[[sheet.part]]"]
    lines += [f"kind = {_quoted(part.kind)}"]
    lines += [f"only_if = {_quoted(part.only_if)}"] if part.only_if else []
    for name, table in (("columns", part.columns), ("units", part.units), ("fixed", part.fixed)):
        if table:
            lines += [f"[{at}.{name}]", *(f"{ours} = {_quoted(theirs)}" for ours, theirs in table.items())]
    return lines


def _quoted(text: str) -> str:
    return json.dumps(text, ensure_ascii=False)
