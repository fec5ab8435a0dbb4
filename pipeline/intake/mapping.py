"""How a partner writes: one TOML a partner, turned into frozen values. It renames and translates; nothing clever."""

import re
import tomllib
from collections.abc import Iterable
from collections.abc import Mapping as MappingLike
from dataclasses import replace
from functools import cache

from pipeline.engine import connection
from pipeline.errors import BadUsage
from pipeline.intake.days import ORDERS, SERIAL
from pipeline.intake.placing import Position, position_in
from pipeline.intake.stated import stated_in
from pipeline.intake.units import conversion, units_for
from pipeline.intake.ways import BLANKS, CELL, OPEN, Mapping, PartMap, SheetMap, Wide
from pipeline.toml_read import Table
from pipeline.tongue import LANGUAGES
from schemas.kinds import Kind


def parse_mapping(partner: str, raw: bytes, kinds: MappingLike[str, Kind], where: str = "") -> Mapping:
    """A mapping from its bytes. BadUsage names the file, the table, the key and the cure."""
    where = where or f"partners/{partner}.toml"
    try:
        top = Table(tomllib.loads(raw.decode("utf-8")), where)
    except (UnicodeDecodeError, tomllib.TOMLDecodeError) as e:
        raise BadUsage(f"{where} cannot be read: {e}. Mend it there and run again.") from e
    return mapping_of(partner, top, raw, kinds)


def mapping_of(partner: str, top: Table, raw: bytes, kinds: MappingLike[str, Kind]) -> Mapping:
    """A mapping from its tables, wherever they were written. BadUsage names the table, the key and the cure."""
    where, plain = top.where, SheetMap(("*",), ".", "", "", "", (), ())
    shared, codes, language = _style(top, plain), _codes(top), top.text("language", "en")
    position = position_in(top, Position(language))
    top.one_of("letters", ("", *LANGUAGES), "")  # read by whoever writes them
    known = {c.name for kind in kinds.values() for c in kind.columns}
    for column in codes:
        if column not in known:
            raise BadUsage(f"{where}, [codes]: `{column}` is no column of any kind. See `wrackline columns`.")
    sheets = []
    for t in top.tables("sheet"):
        nested, style = _parts_of(t), _shape(t, _style(t, shared))
        given = {*_groups(style.file_pattern), *_groups(style.sheet_pattern), *style.above}
        parts = tuple(
            _part(p, kinds, codes, style.decimal, given, position)
            for p in (_with_shared(t, nested, kinds) if nested else [t])
        )
        for column in (c for p in parts for c, text in p.fixed.items() if text == OPEN and style.confirmed):
            raise BadUsage(
                f'{t.where}: `{column}` is still a question ("{OPEN}"). Answer it there, or set `confirmed = false`.'
            )
        for column in sorted(given - {c.name for p in parts for c in kinds[p.kind].columns}):
            raise BadUsage(f"{t.where}: `{column}` is no column of {' or '.join(p.kind for p in parts)}.")
        sheets.append(replace(style, parts=parts))
        t.refuse_unknown()
    made = Mapping(partner, language, tuple(sheets), raw)
    top.refuse_unknown()
    return made


def _parts_of(t: Table) -> list[Table]:
    """The parts of a sheet. BadUsage when what only a part can say stands beside them."""
    nested = t.tables("part")
    for key in ("codes", "position", "wide", "only_if") if nested else ():
        if key in t.data:
            of = f".{next(iter(t.data[key]), '...')}" if key == "codes" and isinstance(t.data[key], dict) else ""
            top = f", or to the top of the file, as [{key}{of}], where it holds for every sheet"
            raise BadUsage(
                f"{t.where}: `{key}` stands beside [[sheet.part]], where it is of no part. Move it into the part that it is of"
                + (f", as [sheet.part.{key}{of}]" if key in ("codes", "position", "wide") else "")
                + (f"{top}." if key in ("codes", "position") else ".")
            )
    return nested


def _with_shared(t: Table, parts: list[Table], kinds: MappingLike[str, Kind]) -> list[Table]:
    """The parts of a sheet, each with what the sheet says for all of them and it does not say otherwise itself."""
    shared = {key: t.table(key, {}).data for key in ("columns", "fixed", "units")}
    columns = [{c.name for c in kinds[k].columns} if (k := p.text("kind", "")) in kinds else set() for p in parts]
    for column in (c for told in shared.values() for c in told if not any(c in known for known in columns)):
        raise BadUsage(f"{t.where}: `{column}` is a column of none of its parts. See `wrackline columns`.")
    made = []
    for p, known in zip(parts, columns, strict=True):
        own = {key: p.table(key, {}).data for key in shared}
        told = {*own["columns"], *own["fixed"]}
        more = {
            key: {
                **{c: v for c, v in table.items() if c in known and c not in (own[key] if key == "units" else told)},
                **own[key],
            }
            for key, table in shared.items()
        }
        made.append(Table({**p.data, **{key: table for key, table in more.items() if table}}, p.where))
    return made


def _style(t: Table, otherwise: SheetMap) -> SheetMap:
    """How numbers, days and blanks are written: what the table says, else what stands above it."""
    made = replace(
        otherwise,
        decimal=t.one_of("decimal", (".", ","), otherwise.decimal),
        thousands=t.text("thousands", otherwise.thousands),
        dates=t.one_of("dates", ("", *ORDERS, *SERIAL), otherwise.dates),
        timezone=t.text("timezone", otherwise.timezone),
        blanks=tuple(t.texts("blanks", list(otherwise.blanks))),
        confirmed=t.yes_no("confirmed", otherwise.confirmed),
    )
    if made.thousands == made.decimal:
        raise BadUsage(f"{t.where}: `thousands` and `decimal` are both {made.decimal!r}. Change one of them.")
    if made.timezone and made.timezone not in zones():
        raise BadUsage(
            f'{t.where}: `timezone` is {made.timezone!r}; the name of a zone such as "Europe/Lisbon" is wanted.'
        )
    return made


def _shape(t: Table, style: SheetMap) -> SheetMap:
    """Which sheets are meant, and what is told beside the rows: by names, above the headings, by the row above."""
    rows = t.whole("header_rows", 1)
    if not 1 <= rows <= 4:
        raise BadUsage(f"{t.where}: `header_rows` is {rows}; from 1 to 4 rows of headings can be read.")
    return replace(
        style,
        files=tuple(t.texts("files", ["*"])),
        stated=stated_in(t),
        file_pattern=_pattern(t, "file_pattern"),
        sheet_pattern=_pattern(t, "sheet_pattern"),
        above=t.mapping("above"),
        fill_down=tuple(t.texts("fill_down", [])),
        header_rows=rows,
    )


def _pattern(t: Table, key: str, default: str = "") -> str:
    text = t.text(key, default)
    try:
        named = re.compile(text).groupindex
    except re.error as e:
        raise BadUsage(f"{t.where}: `{key}` is no regular expression: {e}. Mend it there and run again.") from None
    if text and not named:
        raise BadUsage(f"{t.where}: `{key}` names none of our columns; write it like (?P<site_key>.+).")
    return text


def _groups(pattern: str) -> Iterable[str]:
    return re.compile(pattern).groupindex


@cache
def zones() -> frozenset[str]:
    """The names of the time zones that the cast knows."""
    with connection() as con:
        return frozenset(name for (name,) in con.sql("select name from pg_timezone_names()").fetchall())


def _codes(t: Table) -> dict[str, dict[str, str]]:
    table = t.table("codes", {})
    return {column: table.mapping(column) for column in table.data}


def _part(
    t: Table, kinds: MappingLike[str, Kind], shared_codes: dict[str, dict[str, str]], mark: str, given: set[str],
    position: Position,
) -> PartMap:  # fmt: skip
    """given: our columns that the sheet's names or the cells above its headings tell."""
    name = t.text("kind")
    if name not in kinds:
        raise BadUsage(f"{t.where}: kind `{name}` is not known. Known are: {', '.join(kinds)}.")
    kind, columns = kinds[name], {c.name: c for c in kinds[name].columns}
    codes, fixed = _codes(t), t.mapping("fixed")
    numbers = {k for k in fixed if not isinstance(t.data["fixed"][k], str)}  # 0.25 in TOML is 0,25 in this sheet
    headings, joins = _headings(t, kind)
    only_if, only_words = _only_if(t)
    made = PartMap(
        kind=name,
        headings=headings,
        units=t.mapping("units"),
        codes={k: v for k, v in {**shared_codes, **codes}.items() if k in columns},
        fixed={k: v.replace(".", mark) if k in numbers else v for k, v in fixed.items()},
        only_if=only_if,
        only_words=only_words,
        joins=joins,
        wide=_wide(t.table("wide")) if "wide" in t.data else None,
        position=position_in(t, position),
    )
    t.refuse_unknown()
    _refuse_told_twice(t, made)
    from_wide = made.wide.columns() if made.wide else set[str]()
    for column in (*made.headings, *made.joins, *made.units, *made.fixed, *codes, *sorted(from_wide)):
        if column not in columns:
            raise BadUsage(f"{t.where}: `{column}` is no column of {name}. Its columns are: {', '.join(columns)}.")
    for column in sorted(from_wide & {*made.headings, *made.joins, *made.fixed}):
        raise BadUsage(f"{t.where}: `{column}` comes from the wide columns and from elsewhere. Take one away.")
    for column, unit in made.units.items():
        stored = made.unit_of(column, columns[column].unit)
        if conversion(unit, stored) is None:
            good = ", ".join(units_for(stored)) or "none"
            raise BadUsage(f"{t.where}: `{column}` cannot be written in {unit!r}; known units for it: {good}.")
    told = {*made.headings, *made.joins, *made.fixed, *from_wide, *given}
    unmapped = [c.name for c in kind.columns if c.required and c.name not in told and not derived(kind, c.name)]
    if unmapped:
        raise BadUsage(
            f"{t.where}: `{unmapped[0]}` of {name} must come from somewhere. Name its heading under [columns], "
            "or a value for the whole file under [fixed]."
        )
    return made


def _refuse_told_twice(t: Table, made: PartMap) -> None:
    if made.position.crs and "datum" in {*made.headings, *made.joins, *made.fixed}:
        raise BadUsage(f"{t.where}: the datum is told by `crs` under [position] and by `datum`. Take one away.")
    if (made.position.uncertainty or made.position.estimated_error) and "uncertainty_m" in made.units:
        raise BadUsage(f"{t.where}: `uncertainty_m` is worked out in metres under [position]. Take its unit away.")


def _headings(t: Table, kind: Kind) -> tuple[dict[str, str], dict[str, tuple[str, ...]]]:
    """Our columns with one heading, and those with several that are joined."""
    headings, joins = t.singles_and_lists("columns")
    days = {c.name for c in kind.columns if c.type in ("day", "instant")}
    for column, parts in joins.items():
        if len(parts) < 2 or (column in days and len(parts) > 4):
            raise BadUsage(
                f"{t.where}: `{column}` joins {len(parts)} headings; year, month and day (in this order), with or without "
                "a time, or a day and a time are wanted."
            )
    return headings, joins


def _only_if(t: Table) -> tuple[str, tuple[str, ...]]:
    """A heading alone, or a heading and the words that its cell must hold."""
    if not isinstance(t.data.get("only_if"), dict):
        return t.text("only_if", ""), ()
    table = t.table("only_if")
    if len(table.data) != 1:
        raise BadUsage(
            f'{t.where}: `only_if` names {len(table.data)} headings; one is wanted, such as {{"Type" = ["count"]}}.'
        )
    [heading] = table.data
    return heading, tuple(table.texts(heading))


def _wide(t: Table) -> Wide:
    """A part's wide columns. `heading` is short for a pattern that takes all of it; `cell` for cells of one sort."""
    heading, one, several = t.text("heading", ""), t.text("cell", ""), t.mapping("cells")
    pattern = _pattern(t, "pattern", f"(?P<{heading}>.+)" if heading.isidentifier() else "")
    groups = set(_groups(pattern))
    if not pattern or (heading and heading not in groups):
        raise BadUsage(
            f"{t.where}: `heading` names the column of ours that the headings' text fills, or `pattern` does."
        )
    if bool(one) == bool(several) or bool(several) != (CELL in groups):
        raise BadUsage(
            f"{t.where}: `cell` names the column of ours that the cells fill; where columns of several sorts stand side by "
            f"side, `cells` tells them apart by the words that the pattern's (?P<{CELL}>...) finds."
        )
    made = Wide(
        headings=tuple(t.texts("headings", ["*"])),
        but_not=tuple(t.texts("but_not", [])),
        pattern=pattern,
        cells=several or {"": one},
        blank=t.one_of("blank", BLANKS, BLANKS[0]),
        zero=tuple(t.texts("zero", [])),
        not_counted=tuple(t.texts("not_counted", [])),
    )
    t.refuse_unknown()
    return made


def derived(kind: Kind, column: str) -> bool:
    """Whether a required column may be made from others (the day of a time, the code of a dive)."""
    return column == "visit_key" or (column == "happened" and bool(kind.happened_from))
