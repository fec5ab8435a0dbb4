"""Joins a partner's mapping, the kinds and the registers to a blank workbook for that partner."""

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import ROUND_CEILING, ROUND_FLOOR, Decimal
from fractions import Fraction
from pathlib import Path
from typing import Any

from pipeline.blank_lists import Registered, registered
from pipeline.blanks.book import workbook
from pipeline.blanks.boxes import Book, Box, Lists, Sheet
from pipeline.blanks.checks import SHOWN
from pipeline.blanks.columns import DESCRIBED, EXAMPLES, FIELD, OFFERED, READ_AS_WRITTEN, ROUGH, TITLES, TO_COME
from pipeline.blanks.words import LANGUAGES, words
from pipeline.errors import BadUsage
from pipeline.intake.form_marks import Form, form_text, page_text
from pipeline.intake.mapping import parse_mapping
from pipeline.intake.stated import NOTHING
from pipeline.intake.units import exact_conversion
from pipeline.intake.ways import Mapping as Written
from pipeline.intake.ways import PartMap, SheetMap
from pipeline.programme import Programme, mapping_bytes, open_programme, partner_names
from pipeline.tongue import Tongue
from schemas.kinds import Column, Kind, all_kinds

REFERS = {"site": "sites", "plot": "plots", "bed": "beds", "permit": "permits", "collection": "batches"}
BY_NAME = {
    "unit_key": "units", "protocol": "protocols", "species": "species", "recorded_by": "people", "supervisor": "people",
    "currency": "currency",
}  # fmt: skip
NEW = {
    "deployment": "unit_key",
    "collection": "batch_key",
    "site": "site_key",
    "bed": "bed_key",
    "plot": "plot_key",
    "permit": "permit_key",
}
STYLES = {
    "en": (".", "YMD"),
    "es": (",", "DMY"),
    "pt": (",", "DMY"),
    "fr": (",", "DMY"),
    "nb": (",", "DMY"),
}  # where no mapping says
SIX = Decimal("0.000001")


@dataclass(frozen=True)
class Desk:
    """All that a blank sheet for one partner is made with."""

    programme: Programme
    partner: str
    written: Written
    said: Tongue
    known: Registered
    kinds: Mapping[str, Kind]


def desk(root: Path, partner: str, language: str = "") -> Desk:
    """What is needed for a partner's blank sheets. BadUsage when there is no such partner or language."""
    programme, kinds = open_programme(root), all_kinds()
    raw = mapping_bytes(programme.places, partner)
    if not raw and partner not in partner_names(programme.places):
        raise BadUsage(
            f"{partner!r} is no partner: it has neither inbox/{partner}/ nor partners/{partner}.toml. Make one of them first."
        )
    written = parse_mapping(partner, raw, kinds)
    own = {"no": "nb", "nn": "nb"}.get(written.language.casefold()[:2], written.language.casefold()[:2])
    said = words(language or (own if own in LANGUAGES else "en"))
    return Desk(programme, partner, written, said, registered(root, partner), kinds)


def blank(at: Desk, kinds: Sequence[str]) -> bytes:
    """A workbook with a sheet for each of these kinds. BadUsage names a kind for which there is none."""
    for kind in kinds:
        if kind not in TITLES:
            raise BadUsage(f"There is no blank sheet of {kind!r}. There are: {', '.join(TITLES)}.")
    ways: list[Way] = []
    for made in (way(at, kind) for kind in kinds):
        ways += [made] if all(made.sheet != w.sheet for w in ways) else []  # one of theirs may tell of several kinds
    return bound(at, [sheet(at, w) for w in ways])


def bound(at: Desk, sheets: Sequence[Sheet], visit: str = "") -> bytes:
    """Sheets as a workbook."""
    places = [(code_of(at, "site_key", key), name) for key, name in at.known.sites]
    book = Book(at.programme.rules.name, at.partner, tuple(sheets), _lists(at), places, at.known.recorded, visit)
    return workbook(book, at.said, page_text("instructions"))


# --- ways of writing ----------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Way:
    """How a blank sheet is written: what its mark says, its name, and whether its words are the partner's own."""

    sheet: SheetMap
    name: str
    title: str
    also: tuple[str, ...] = ()


def way(at: Desk, kind: str) -> Way:
    """The partner's own way of writing a kind, the same for all kinds of one sheet; ours where its mapping has none that serves."""
    for own in at.written.sheets:
        if own.confirmed and any(p.kind == kind for p in own.parts) and _serves(own):
            return _theirs(at, own, kind)
    return Way(_ours(at, at.kinds[kind]), at.said(TITLES[kind]), at.said(TITLES[kind]))


def _serves(own: SheetMap) -> bool:
    """Whether its headings are all known and tell everything: no pattern, no cell above them, no second row of them."""
    return not (
        own.file_pattern or own.sheet_pattern or own.above or own.header_rows > 1 or any(p.wide for p in own.parts)
    )


def _theirs(at: Desk, own: SheetMap, kind: str) -> Way:
    name = re.sub(r"[*?\[\]]", "", (own.stated.sheets or (Path(own.files[0]).stem,))[0]).strip(" -_")
    plain = replace(
        own, files=("*",), stated=NOTHING, dates=own.dates if own.dates in SHOWN else STYLES[at.said.language][1]
    )
    return Way(plain, name or at.said(TITLES[kind]), name or at.said(TITLES[kind]))


def _ours(at: Desk, kind: Kind) -> SheetMap:
    """Our own columns under their titles in the partner's language, with the partner's codes where its mapping has some."""
    decimal, dates = STYLES[at.said.language]
    if at.written.sheets:
        decimal = at.written.sheets[0].decimal
        dates = at.written.sheets[0].dates if at.written.sheets[0].dates in SHOWN else dates
    columns = [kind.column(c) for c in FIELD[kind.name]]
    headings = {c.name: _heading(at, c) for c in columns}
    theirs = {c: codes for s in at.written.sheets for p in s.parts for c, codes in p.codes.items()}
    codes = {c.name: {**_translated(at, c), **theirs.get(c.name, {})} for c in columns}
    part = PartMap(kind.name, headings, {}, {c: w for c, w in codes.items() if w}, {})
    zone = "UTC" if kind.name == "reading" else ""
    return SheetMap(("*",), decimal, "", dates, zone, (), (part,))


def _heading(at: Desk, column: Column) -> str:
    unit = (
        f" ({column.unit})"
        if column.unit and "(" not in column.title and column.unit not in ("individuals", "plants")
        else ""
    )
    return at.said(column.title) + unit


def _translated(at: Desk, column: Column) -> dict[str, str]:
    """Our words of a column by what they are called in the partner's language."""
    usual = column.allowed or OFFERED.get(column.name, ()) if column.name not in READ_AS_WRITTEN else ()
    usual = ("yes", "no") if column.type == "yesno" else usual
    return {at.said(w): w for w in usual if at.said(w) != w}


# --- boxes --------------------------------------------------------------------------------------------------


def sheet(at: Desk, w: Way, rows: Sequence[Mapping[str, Any]] = (), once: Sequence[str] = ()) -> Sheet:
    """A blank sheet written that way. rows, once: see `Sheet`; rows are told apart by the way's own numbers."""
    says = at.said("This line tells how the sheet is read. Please leave it as it is.")
    mark = form_text(Form(w.sheet, at.said.language, w.also), says)
    title = f"{w.title} · {at.programme.rules.name} · {at.partner}"
    order = dict.fromkeys(h for p in w.sheet.parts for h in headings_of(p))
    given = [Box(h, sort="") for h in ([w.sheet.number] if w.sheet.number else [])]
    extra = [Box(h, sort="") for h in w.also]
    made = [box(at, w.sheet.parts, h) for h in order]
    first = {
        *once,
        *(p.headings[c] for p in w.sheet.parts for c in ("site_key", "unit_key", "plot_key") if c in p.headings),
    }
    front = [b for b in made if b.heading in first] if extra else []
    boxes = (*given, *front, *extra, *(b for b in made if b not in front))
    return Sheet(w.name, title, mark, boxes, tuple(rows), tuple(once), w.sheet.dates)


def headings_of(part: PartMap) -> Iterable[str]:
    """The part's headings in their order."""
    yield from part.headings.values()
    for several in part.joins.values():
        yield from several
    if part.only_if:
        yield part.only_if


def box(at: Desk, parts: Sequence[PartMap], heading: str) -> Box:
    """The box under a heading: of the first part and column that it feeds."""
    fed = [(p, c) for p in parts for c, h in p.headings.items() if h == heading]
    if not fed:  # one of several that are joined, or what only says whether a row is meant
        return Box(heading, sort="text")
    part, name = fed[0]
    kind = at.kinds[part.kind]
    column = kind.column(name)
    offered, of = _offered(at, part, column)
    unit = part.units.get(name, part.unit_of(name, column.unit))
    least, most, above = limits(column, unit, part.unit_of(name, column.unit))
    closed = closed_words(at, part, column)
    needed = all(any(h == heading and needs(at.kinds[p.kind], p, c) for c, h in p.headings.items()) for p in parts)
    told = DESCRIBED.get(name, column.description)
    wanted = at.said(told) if told else ""
    return Box(
        heading, column.type, needed, wanted if wanted != told or at.said.language == "en" else "",
        unit if unit not in ("individuals", "plants") else "", least, most, above, closed, "" if closed else offered, "" if closed else of,
        column.name in ROUGH, column.name in TO_COME, _example(at, part, column, closed, unit),
    )  # fmt: skip


def needs(kind: Kind, part: PartMap, name: str) -> bool:
    """Whether every row needs it: a day may come from a time instead, and a dive without a code is named by its site and day."""
    told = {*part.headings, *part.joins, *part.fixed}
    if name == "visit_key" and "visit_key" in kind.key:
        return False
    if name == "happened" and kind.happened_from:
        return kind.column(name).required and kind.happened_from not in told
    if name == kind.happened_from and "happened" not in told:
        return kind.column("happened").required
    return kind.column(name).required


def closed_words(at: Desk, part: PartMap, column: Column) -> tuple[str, ...]:
    """The only words that may stand in a column, as the partner writes them; none where any may."""
    allowed = ("yes", "no") if column.type == "yesno" else column.allowed
    return tuple(_said(part, column.name, word) for word in allowed)


def _said(part: PartMap, column: str, word: str) -> str:
    """A word of ours as the partner writes it: its last one for it, since its own come behind ours."""
    return next((theirs for theirs, ours in reversed(list(part.codes.get(column, {}).items())) if ours == word), word)


def code_of(at: Desk, column: str, key: str) -> str:
    """A code of the programme as the partner writes it."""
    for part in (p for s in at.written.sheets for p in s.parts if column in p.codes):
        return _said(part, column, key)
    return key


def said_in(at: Desk, column: str, word: str) -> str:
    """A word of ours as the partner writes it, else in the partner's language where its sheets are ours."""
    said = code_of(at, column, word)
    return said if said != word or at.written.sheets or column == "species" or not word else at.said(word)


def _offered(at: Desk, part: PartMap, column: Column) -> tuple[str, str]:
    """The list that a column is chosen from, and the heading of the place on which it depends."""
    if NEW.get(part.kind) == column.name:
        return "", ""
    name = REFERS.get(column.refers) or BY_NAME.get(column.name) or ("plots" if column.name == "paired_with" else "")
    if not name and (column.name in OFFERED or part.codes.get(column.name)):
        known = part.codes.get(column.name, {})
        translated = any(at.said(w) in known for w in OFFERED.get(column.name, ()) if at.said(w) != w)
        name = f"{'told' if translated else 'said'} {column.name}"
    by_place = name in ("plots", "units")
    return name, part.headings.get("site_key", "") if by_place else ""


def _lists(at: Desk) -> Lists:
    """Every list, in the partner's words."""
    plain: dict[str, list[str]] = {name: list(words) for name, words in at.known.plain.items()}
    theirs: dict[str, dict[str, str]] = {}
    for part in (p for s in at.written.sheets for p in s.parts):
        for column, codes in part.codes.items():
            theirs.setdefault(column, {}).update(codes)
    plain["species"] = list(dict.fromkeys([*theirs.get("species", {}), *plain.get("species", [])]))
    for column in {*theirs, *OFFERED}:
        ours = [w if column in READ_AS_WRITTEN else said_in(at, column, w) for w in OFFERED.get(column, ())]
        plain[f"said {column}"] = list(dict.fromkeys([*theirs.get(column, {}), *ours]))
        # a sheet of ours reads our words in the partner's language too, whatever the partner's own sheets read
        plain[f"told {column}"] = list(dict.fromkeys([*theirs.get(column, {}), *map(at.said, OFFERED.get(column, ()))]))
    by_place = {
        name: [(code_of(at, "site_key", site), code_of(at, column, key)) for site, key in pairs]
        for name, column, pairs in (("plots", "plot_key", at.known.plots), ("units", "unit_key", at.known.units))
    }
    plain["sites"] = [code_of(at, "site_key", key) for key, _ in at.known.sites]
    for name, pairs in by_place.items():
        plain[name] = list(dict.fromkeys(word for _, word in pairs))
    return Lists(plain, by_place)


def limits(column: Column, unit: str, ours: str) -> tuple[Decimal | None, Decimal | None, Decimal | None]:
    """At least, at most, more than: the column's own limits in the unit that is written, never wider."""
    if column.type not in ("whole", "decimal"):
        return None, None, None
    factor, added = (unit != ours and exact_conversion(unit, ours)) or (Fraction(1), Fraction(0))

    def turned(key: str, rounding: str) -> Decimal | None:
        if key not in column.limits:
            return None
        value = (Fraction(str(column.limits[key])) - added) / factor
        return (Decimal(value.numerator) / Decimal(value.denominator)).quantize(SIX, rounding).normalize()

    return turned("minimum", ROUND_CEILING), turned("maximum", ROUND_FLOOR), turned("exclusiveMinimum", ROUND_CEILING)


def _example(at: Desk, part: PartMap, column: Column, closed: tuple[str, ...], unit: str) -> Any:
    if closed:
        return closed[0]
    if column.name == "species":
        return next(iter(_lists(at).plain["species"]), "Saccharina latissima")
    if column.name == "site_key" and at.known.sites:
        return code_of(at, "site_key", at.known.sites[0][0])
    if column.type in ("day", "instant"):
        day = at.known.as_of
        return None if day is None else day
    if column.name in EXAMPLES:
        return EXAMPLES[column.name]
    if column.type in ("whole", "decimal"):
        return Decimal(column.example) if column.example and unit == column.unit else Decimal(4)
    codes = part.codes.get(column.name, {})
    return next(iter(codes), column.example or None)
