"""A sheet that says itself how it is read: the line above the headings of a blank sheet of ours, in any file it is saved as.

The line holds what a mapping says of such a sheet, so that a sheet handed out under an older mapping is still read as
its owner filled it in. It says nothing that the sheet's own cells could not say: no rule, no pattern, no other sheet.
What cannot be read as such a line is none.
"""

import json
import re
from collections.abc import Mapping as MappingLike
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import pyarrow as pa
import pyarrow.compute as pc

from pipeline.errors import BadUsage
from pipeline.intake.mapping import mapping_of
from pipeline.intake.match import HEADER_SOUGHT_IN, Head, Match
from pipeline.intake.placing import PLAIN
from pipeline.intake.ways import PartMap, SheetMap
from pipeline.toml_read import Table
from schemas.kinds import Kind

VERSION = 1
BEGINS = f"wrackline-form {VERSION}"
LONGEST = 30_000  # characters of a cell that every spreadsheet program keeps
MOST_PARTS = 64  # a row yields so many parts at most
HALF = re.compile(r"1([.,])50*")  # one and a half, as the program that saved the sheet writes numbers
LAST_OF_2021 = re.compile(r"(?P<DMY>31[/.-]12[/.-](?:20)?21)|(?P<MDY>12[/.-]31[/.-](?:20)?21)")  # as it writes days
_STYLE = ("language", "decimal", "thousands", "dates", "timezone", "blanks", "codes")
_OWN = ("part", "number", "boxes", "also")


@dataclass(frozen=True)
class Form:
    """A blank sheet's way of writing. also: headings of columns that only tell something to whoever fills it in."""

    sheet: SheetMap
    language: str = "en"
    also: tuple[str, ...] = ()


def page_text(what: str) -> str:
    """The first cell of a page of ours that holds no data."""
    return f"{BEGINS} {json.dumps({'page': what})}"


def is_page(head: Head) -> bool:
    """Whether a sheet is one of ours that holds no data: instructions, or lists."""
    first = next((c for r in head[:1] for c in r if c.strip()), "")
    return first.startswith(BEGINS) and '"page"' in first


def form_text(form: Form, says: str) -> str:
    """The line. says: a sentence for people, without curly brackets. BadUsage where it is too long for a cell."""
    s = form.sheet
    told: dict[str, Any] = {
        "language": form.language, "decimal": s.decimal, "thousands": s.thousands, "dates": s.dates, "timezone": s.timezone,
        "blanks": list(s.blanks), "part": [_part(p) for p in s.parts], "number": s.number, "boxes": list(s.boxes),
        "also": list(form.also),
    }  # fmt: skip
    packed = json.dumps({k: v for k, v in told.items() if v}, ensure_ascii=False, separators=(",", ":"))
    # \\" would look like an escaped mark to whoever parts a text file into cells
    text = f"{BEGINS} {says} " + re.sub(r"\\(.)", lambda m: "\\u0022" if m[1] == '"' else m[0], packed)
    if len(text) > LONGEST:
        raise BadUsage(
            "This blank sheet would have too many headings and codes for one line. Ask for fewer kinds at once."
        )
    return text


def _part(p: PartMap) -> dict[str, Any]:
    """A part as a mapping writes it."""
    o = p.position
    position = {
        "hemisphere": list(o.hemisphere), "crs": o.crs, "order": "lon lat" if o.longitude_first else "",
        "utm_letter": o.utm_letter, "uncertainty": o.uncertainty, "estimated_error": o.estimated_error,
    } if replace(o, language="en") != PLAIN else {}  # fmt: skip
    columns = {**p.headings, **{c: list(hs) for c, hs in p.joins.items()}}
    told: dict[str, Any] = {
        "kind": p.kind, "columns": columns, "units": dict(p.units), "fixed": dict(p.fixed),
        "codes": {c: dict(w) for c, w in p.codes.items() if w and (c in columns or c in p.fixed)},
        "only_if": {p.only_if: list(p.only_words)} if p.only_words else p.only_if,
        "position": {k: v for k, v in position.items() if v},
    }  # fmt: skip
    return {k: v for k, v in told.items() if v}


def read_form(text: str, kinds: MappingLike[str, Kind]) -> Form | None:
    """The way of writing that a cell tells, None where it tells none that can be read."""
    start = text.find("{")
    if not text.startswith(BEGINS) or start < 0 or len(text) > 2 * LONGEST:
        return None
    try:
        told = json.loads(text[start:])
        plain = json.dumps(told, ensure_ascii=False)
        plain.encode()
        if not isinstance(told, dict) or not set(told) <= {*_STYLE, *_OWN} or "\\u0000" in plain:
            return None
        parts = told.get("part")
        if not isinstance(parts, list) or len(parts) > MOST_PARTS or any("wide" in p for p in parts):
            return None
        top = Table({**{k: told[k] for k in _STYLE if k in told}, "sheet": [{"part": parts}]}, "the sheet's first line")
        own = Table({k: told[k] for k in _OWN if k in told}, "the sheet's first line")
        made = mapping_of("", top, b"", kinds)
        sheet = replace(made.sheets[0], number=own.text("number", ""), boxes=tuple(own.texts("boxes", [])))
        return Form(sheet, made.language, tuple(own.texts("also", [])))
    except (BadUsage, ValueError, TypeError, RecursionError):
        return None


def form_match(head: Head, kinds: MappingLike[str, Kind]) -> Match | None:
    """How a filled-in blank sheet is to be read, None for any other sheet. head: its first rows, as text.

    Its columns may stand in any order, some may be gone and others added. A heading that is gone while an unknown one
    stands there was most likely renamed: then the match names it.
    """
    top = [[cell.strip() for cell in row] for row in head[:HEADER_SOUGHT_IN]]
    at, form = next(((n, f) for n, row in enumerate(top) for c in row if (f := read_form(c, kinds))), (0, None))
    if form is None:
        return None
    known = {*form.sheet.headings(), *form.also, form.sheet.number} - {""}
    below = top[at + 1 :]
    best = max(range(len(below)), key=lambda n: len(known & set(below[n])), default=-1)
    if best < 0 or len(known & set(below[best])) < min(2, len(known)):
        return None
    header = tuple(below[best])
    gone, strange = known - set(header), {h for h in header if h} - known
    renamed = min(gone & form.sheet.headings(), default="") if strange else ""
    parts = tuple(p for p in (_with_these(p, header) for p in form.sheet.parts) if p is not None)
    mark = next((m[1] for c in top[at] if (m := HALF.fullmatch(c))), form.sheet.decimal)
    order = next((m.lastgroup for c in top[at] if (m := LAST_OF_2021.fullmatch(c)) and m.lastgroup), form.sheet.dates)
    bare = "" if mark == form.sheet.thousands else form.sheet.thousands
    sheet = replace(form.sheet, parts=parts, decimal=mark, thousands=bare, dates=order)
    return Match(sheet, at + 1 + best + 1, header, {}, renamed) if parts else None


def _with_these(part: PartMap, header: Sequence[str]) -> PartMap | None:
    """The part without the columns that were taken out of the sheet; None where it cannot be told any more."""
    if part.only_if and part.only_if not in header:
        return None
    headings = {c: h for c, h in part.headings.items() if h in header}
    joins = {c: hs for c, hs in part.joins.items() if all(h in header for h in hs)}
    return replace(part, headings=headings, joins=joins) if headings else None


def mark_row(head: Head, kinds: MappingLike[str, Kind]) -> list[str]:
    """The row of a sheet that tells how it is read, as it stands; none where there is none."""
    return next((row for row in head[:HEADER_SOUGHT_IN] if told_in(row, kinds)), [])


def told_in(row: Sequence[str], kinds: MappingLike[str, Kind]) -> bool:
    """Whether a row tells how its sheet is read."""
    return any(read_form(c.strip(), kinds) for c in row)


def without_unfilled(match: Match, table: pa.Table) -> tuple[pa.Table, list[int]]:
    """The rows without those that were handed out and left as they were, and the numbers of these.

    table: `row`, c0 ..; trimmed. A given row is one with a number; it says something once one of its boxes is filled.
    """
    sheet, at = match.sheet, {h: f"c{i}" for i, h in reversed(list(enumerate(match.header)))}
    boxes = [at[b] for b in sheet.boxes if b in at]
    if sheet.number not in at or not boxes or not table.num_rows:
        return table, []
    left = pc.not_equal(table.column(at[sheet.number]).cast(pa.string()), "")
    for box in boxes:
        left = pc.and_(left, pc.equal(table.column(box).cast(pa.string()), ""))
    return table.filter(pc.invert(left)), table.column("row").filter(left).to_pylist()
