"""How a partner writes: one TOML a partner, turned into frozen values. It renames and translates; nothing clever."""

import fnmatch
import hashlib
import tomllib
from collections.abc import Mapping as MappingLike
from dataclasses import dataclass, field, replace
from functools import cache

import duckdb

from pipeline.errors import BadUsage
from pipeline.intake.stated import NOTHING, Stated, stated_in
from pipeline.intake.units import conversion, units_for
from pipeline.toml_read import Table
from schemas.kinds import Kind

HEADER_SOUGHT_IN = 30  # rows from the top of a sheet in which its headings are looked for


@dataclass(frozen=True)
class PartMap:
    """What one row yields of one kind. Keys of all tables are our columns."""

    kind: str
    headings: MappingLike[str, str]
    units: MappingLike[str, str]
    codes: MappingLike[str, MappingLike[str, str]]
    fixed: MappingLike[str, str]
    only_if: str = ""


@dataclass(frozen=True)
class SheetMap:
    """How one sort of sheet is written. `files` are patterns of file names; `dates` is DMY, MDY or YMD.

    stated: what the mapping says of how such a file is read.
    """

    files: tuple[str, ...]
    decimal: str
    thousands: str
    dates: str
    timezone: str
    blanks: tuple[str, ...]
    parts: tuple[PartMap, ...]
    stated: Stated = NOTHING

    def headings(self) -> set[str]:
        """Every heading that the sheet must have."""
        return {h for p in self.parts for h in (*p.headings.values(), *([p.only_if] if p.only_if else []))}


@dataclass(frozen=True)
class Mapping:
    """A partner's mapping; without a file it knows only our own headings."""

    partner: str
    language: str = "en"
    sheets: tuple[SheetMap, ...] = ()
    raw: bytes = field(default=b"", repr=False)

    @property
    def hash(self) -> str:
        """SHA-256 of the file's bytes: work is keyed by it."""
        return hashlib.sha256(self.raw).hexdigest()


@dataclass(frozen=True)
class Match:
    """Which way of writing fits a sheet, and where its headings stand (row number, 1 is the sheet's first)."""

    sheet: SheetMap
    header_row: int
    header: tuple[str, ...]

    @property
    def twice(self) -> str:
        """A heading that is needed and stands over two columns, "" if there is none: nobody can tell which is meant."""
        return next((h for h in sorted(self.sheet.headings()) if self.header.count(h) > 1), "")


def parse_mapping(partner: str, raw: bytes, kinds: MappingLike[str, Kind], where: str = "") -> Mapping:
    """A mapping from its bytes. BadUsage names the file, the table, the key and the cure."""
    where = where or f"partners/{partner}.toml"
    try:
        top = Table(tomllib.loads(raw.decode("utf-8")), where)
    except (UnicodeDecodeError, tomllib.TOMLDecodeError) as e:
        raise BadUsage(f"{where} cannot be read: {e}. Mend it there and run again.") from e
    plain = SheetMap(("*",), ".", "", "YMD", "", (), ())
    shared, codes = _style(top, plain), _codes(top)
    known = {c.name for kind in kinds.values() for c in kind.columns}
    for column in codes:
        if column not in known:
            raise BadUsage(f"{where}, [codes]: `{column}` is no column of any kind. See `wrackline columns`.")
    sheets = []
    for t in top.tables("sheet"):
        nested, files = t.tables("part"), tuple(t.texts("files", ["*"]))
        style, stated = _style(t, shared), stated_in(t)
        parts = tuple(_part(p, kinds, codes, style.decimal) for p in (nested or [t]))
        sheets.append(replace(style, files=files, parts=parts, stated=stated))
        t.refuse_unknown()
    made = Mapping(partner, top.text("language", "en"), tuple(sheets), raw)
    top.refuse_unknown()
    return made


def _style(t: Table, otherwise: SheetMap) -> SheetMap:
    """How numbers, days and blanks are written: what the table says, else what stands above it."""
    made = replace(
        otherwise,
        decimal=t.one_of("decimal", (".", ","), otherwise.decimal),
        thousands=t.text("thousands", otherwise.thousands),
        dates=t.one_of("dates", ("YMD", "DMY", "MDY"), otherwise.dates),
        timezone=t.text("timezone", otherwise.timezone),
        blanks=tuple(t.texts("blanks", list(otherwise.blanks))),
    )
    if made.thousands == made.decimal:
        raise BadUsage(f"{t.where}: `thousands` and `decimal` are both {made.decimal!r}. Change one of them.")
    if made.timezone and made.timezone not in zones():
        raise BadUsage(
            f'{t.where}: `timezone` is {made.timezone!r}; the name of a zone such as "Europe/Lisbon" is wanted.'
        )
    return made


@cache
def zones() -> frozenset[str]:
    """The names of the time zones that the cast knows."""
    with duckdb.connect(config={"autoinstall_known_extensions": "false"}) as con:
        return frozenset(name for (name,) in con.sql("select name from pg_timezone_names()").fetchall())


def _codes(t: Table) -> dict[str, dict[str, str]]:
    table = t.table("codes", {})
    return {column: table.mapping(column) for column in table.data}


def _part(t: Table, kinds: MappingLike[str, Kind], shared_codes: dict[str, dict[str, str]], mark: str) -> PartMap:
    name = t.text("kind")
    if name not in kinds:
        raise BadUsage(f"{t.where}: kind `{name}` is not known. Known are: {', '.join(kinds)}.")
    kind, columns = kinds[name], {c.name: c for c in kinds[name].columns}
    codes, fixed = _codes(t), t.mapping("fixed")
    numbers = {k for k in fixed if not isinstance(t.data["fixed"][k], str)}  # 0.25 in TOML is 0,25 in this sheet
    made = PartMap(
        kind=name,
        headings=t.mapping("columns"),
        units=t.mapping("units"),
        codes={k: v for k, v in {**shared_codes, **codes}.items() if k in columns},
        fixed={k: v.replace(".", mark) if k in numbers else v for k, v in fixed.items()},
        only_if=t.text("only_if", ""),
    )
    t.refuse_unknown()
    for column in (*made.headings, *made.units, *made.fixed, *codes):
        if column not in columns:
            raise BadUsage(f"{t.where}: `{column}` is no column of {name}. Its columns are: {', '.join(columns)}.")
    for column, unit in made.units.items():
        if conversion(unit, columns[column].unit) is None:
            good = ", ".join(units_for(columns[column].unit)) or "none"
            raise BadUsage(f"{t.where}: `{column}` cannot be written in {unit!r}; known units for it: {good}.")
    unmapped = [
        c.name for c in kind.columns
        if c.required and c.name not in made.headings and c.name not in made.fixed and not _derived(kind, c.name)
    ]  # fmt: skip
    if unmapped:
        raise BadUsage(
            f"{t.where}: `{unmapped[0]}` of {name} must come from somewhere. Name its heading under [columns], "
            "or a value for the whole file under [fixed]."
        )
    return made


def _derived(kind: Kind, column: str) -> bool:
    """Whether a required column may be made from others (the day of a time, the code of a dive)."""
    return column == "visit_key" or (column == "happened" and bool(kind.happened_from))


def own_form(kind: Kind) -> SheetMap:
    """A sheet that uses our own column names needs no mapping."""
    part = PartMap(kind.name, {c.name: c.name for c in kind.columns}, {}, {}, {})
    return SheetMap((f"{kind.name}*",), ".", "", "YMD", "", (), (part,))


def find_match(mapping: Mapping, file_name: str, head: list[list[str]], kinds: MappingLike[str, Kind]) -> Match | None:
    """The first way of writing whose file pattern fits and whose headings all stand in one of the top rows.

    head: the sheet's first rows, as text. None when nothing fits: the whole drop is then held, and says so.
    """
    top = [[cell.strip() for cell in row] for row in head[:HEADER_SOUGHT_IN]]
    for sheet in mapping.sheets:
        if not any(fnmatch.fnmatch(file_name.casefold(), p.casefold()) for p in sheet.files):
            continue
        for at, row in enumerate(top):
            if sheet.headings() <= set(row):
                return Match(sheet, at + 1, tuple(row))
    return _match_own_form(file_name, top, kinds)


def _match_own_form(file_name: str, top: list[list[str]], kinds: MappingLike[str, Kind]) -> Match | None:
    for at, row in enumerate(top):
        cells = {c for c in row if c}
        fits = [k for k in kinds.values() if len(cells) > 1 and cells <= {c.name for c in k.columns}]
        named = [k for k in fits if file_name.casefold().startswith(k.name)]
        if named or len(fits) == 1:
            kind = (named or fits)[0]
            sheet = own_form(kind)
            part = sheet.parts[0]
            here = PartMap(kind.name, {c: c for c in part.headings if c in cells}, {}, {}, {})
            return Match(SheetMap(sheet.files, ".", "", "YMD", "", (), (here,)), at + 1, tuple(row))
    return None
