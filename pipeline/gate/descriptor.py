"""meta.xml: which files there are, how they are written, and which column is which term. Read by the text guide.

The guide's own schema does not ask for a core's id, for unlike indices or for indices within the file; these rules do,
so the offline check is the stricter of the two (standards reference, 1.1).
"""

import codecs
import re
from collections import Counter
from dataclasses import dataclass
from typing import Any

from pipeline.gate.markup import NotMarkup, name_of, namespace_of, parse, text_of
from pipeline.gate.opened import GUIDE, leads_out
from pipeline.gate.rule import Effect, Hits, Rule
from pipeline.gate.terms import ROLES, is_unknown, meant, parted

META = "meta.xml"
TEXT = "http://rs.tdwg.org/dwc/text/"
MOST_COLUMNS = 2_000

_REFUSED = (Effect.REFUSES, Effect.REFUSES)
_LOWER = (Effect.LOWERS, Effect.LOWERS)
NO_META = Rule("meta.xml missing", "a file meta.xml at the top of the archive", *_REFUSED, GUIDE)
META_UNREADABLE = Rule("meta.xml unreadable", "well-formed XML without a document type", *_REFUSED, GUIDE)
NOT_AN_ARCHIVE = Rule("meta.xml of another kind", f"the root element archive of {TEXT}", *_REFUSED, GUIDE)
ONE_CORE = Rule("not one core", "exactly one core, before any extension", *_REFUSED, GUIDE)
STRANGE_ELEMENT = Rule("unknown element", "only what the guide names, in its order", *_REFUSED, GUIDE)
NO_ROW_TYPE = Rule("rowType missing", "the IRI of what a row is", *_REFUSED, GUIDE)
STRANGE_ROW_TYPE = Rule(
    "rowType unknown", "Event, Occurrence, MeasurementOrFact, OBIS's extended one, or Humboldt's Event", *_LOWER, GUIDE
)
NO_LOCATION = Rule("no file named", "files with at least one location", *_REFUSED, GUIDE)
FAR_LOCATION = Rule(
    "file elsewhere", "the path of a file in this archive, neither an address nor a way out of it", *_REFUSED, GUIDE
)
NO_ID = Rule("core without id", "an id with its index, since there are extensions", *_REFUSED, GUIDE)
NO_CORE_ID = Rule("extension without coreid", "a coreid with its index", *_REFUSED, GUIDE)
NO_TERM = Rule("field without term", "the full IRI of a term on every field", *_REFUSED, GUIDE)
BAD_INDEX = Rule("index is no column number", "a whole number, 0 for the first column", *_REFUSED, GUIDE)
NO_FIELD = Rule("no field", "at least one field", *_REFUSED, GUIDE)
NEITHER = Rule("field without a value", "an index or a default on every field", *_LOWER, GUIDE)
TERM_TWICE = Rule("term twice", "each term once in a file", Effect.FLAGS, Effect.FLAGS, GUIDE)
INDEX_TWICE = Rule(
    "column twice", "each column as one term (the id may be a field too)", Effect.FLAGS, Effect.FLAGS, GUIDE
)
UNKNOWN_TERM = Rule("term unknown", "a term that stands in the lists of Darwin Core, Humboldt or OBIS", *_LOWER, GUIDE)
BAD_ENCODING = Rule("encoding unknown", "the name of an encoding, best UTF-8", *_REFUSED, GUIDE)
BAD_MARKS = Rule("marks cannot be used", "one character between cells, one or none around them", *_REFUSED, GUIDE)
BAD_SKIP = Rule("header lines not a number", "ignoreHeaderLines as a whole number", *_REFUSED, GUIDE)
NO_METADATA = Rule("metadata not named", 'metadata="eml.xml", or the name of that file', *_REFUSED, GUIDE)

_ATTRIBUTES = {
    "archive": {"metadata"},
    "table": {
        "rowType", "fieldsTerminatedBy", "linesTerminatedBy", "fieldsEnclosedBy", "encoding", "ignoreHeaderLines", "dateFormat",
    },
    "field": {"index", "term", "default", "vocabulary", "delimitedBy"},
}  # fmt: skip
_NO_ENCODINGS = {"idna", "punycode", "unicode_escape", "raw_unicode_escape"}  # Python's own, of no file
_ESCAPES = {"\\t": "\t", "\\n": "\n", "\\r": "\r", '\\"': '"', "\\'": "'", "\\\\": "\\"}


@dataclass(frozen=True)
class Field:
    """A term, the column it stands in (None: none), and what it is where the cell is empty (None: empty)."""

    term: str
    index: int | None
    default: str | None


@dataclass(frozen=True)
class Table:
    """One core or extension: its rows' kind, its files and how they are written.

    id_index: the column of the core's id; None only of a core without one.
    """

    is_core: bool
    row_type: str
    files: tuple[str, ...]
    encoding: str
    delimiter: str
    quote: str
    skip: int
    id_index: int | None
    fields: tuple[Field, ...]

    @property
    def role(self) -> str:
        """What its rows are to the rules; "" of kinds we have no rules for."""
        return ROLES.get(self.row_type, "")

    @property
    def most_index(self) -> int:
        """The greatest column number that is spoken of."""
        return max([self.id_index or 0, *(f.index for f in self.fields if f.index is not None)])


@dataclass(frozen=True)
class Described:
    """What meta.xml says: the name of the metadata document ("" without one), and the tables, core first."""

    metadata: str
    tables: tuple[Table, ...]


def described(data: bytes, hits: Hits) -> Described | None:
    """meta.xml as values; None when a repository would refuse it, since its rows cannot be read as they are meant."""
    own = Hits()
    said = _described(data, own)
    refused = own.any(Effect.REFUSES)
    if said and not said.metadata:
        own.add(NO_METADATA, META)
    hits.take(own)
    return None if refused else said


def _described(data: bytes, hits: Hits) -> Described | None:
    try:
        root = parse(data)
    except NotMarkup as e:
        hits.add(META_UNREADABLE, META, str(e))
        return None
    if name_of(root) != "archive" or namespace_of(root) != TEXT:
        hits.add(NOT_AN_ARCHIVE, META, str(root.tag))
        return None
    _strange(root, "archive", hits)
    kinds = [name_of(child) for child in root]
    if kinds.count("core") != 1 or kinds[0] != "core":
        hits.add(ONE_CORE, META, ", ".join(kinds) or "nothing")
    for child, kind in zip(root, kinds, strict=True):
        if kind not in ("core", "extension"):
            hits.add(STRANGE_ELEMENT, META, kind, child.sourceline)
    tables = [_table(e, "extension" in kinds, hits) for e in root if name_of(e) in ("core", "extension")]
    return Described(root.get("metadata") or "", tuple(t for t in tables if t))


def _strange(element: Any, kind: str, hits: Hits) -> None:
    for name in element.attrib:
        if not name.startswith("{") and name not in _ATTRIBUTES[kind]:
            hits.add(STRANGE_ELEMENT, META, f"attribute {name}", element.sourceline)


def _table(element: Any, has_extensions: bool, hits: Hits) -> Table | None:
    """One core or extension; None when it cannot be read."""
    is_core = name_of(element) == "core"
    key = "id" if is_core else "coreid"
    _strange(element, "table", hits)
    order = [name_of(child) for child in element]
    if not re.fullmatch(rf"(files )?({key} )?(field )*", "".join(f"{o} " for o in order)):
        hits.add(STRANGE_ELEMENT, META, ", ".join(order[:6]), element.sourceline)
        return None
    row_type = element.get("rowType") or ""
    if not row_type:
        hits.add(NO_ROW_TYPE, META, name_of(element), element.sourceline)
    elif row_type not in ROLES:
        hits.add(STRANGE_ROW_TYPE, META, row_type, element.sourceline)
    by_kind = {o: [c for c in element if name_of(c) == o] for o in ("files", key, "field")}
    files = _files(by_kind["files"], element, hits)
    id_index = _index(by_kind[key][0], hits) if by_kind[key] else None
    if id_index is None and (has_extensions or not is_core):
        hits.add(NO_ID if is_core else NO_CORE_ID, META, row_type, element.sourceline)
    fields = [f for c in by_kind["field"] if (f := _field(c, hits))]
    if not by_kind["field"]:
        hits.add(NO_FIELD, META, row_type, element.sourceline)
    _twice(fields, element, hits)
    written = _written(element, hits)
    usable = row_type and files and fields and written and (is_core or id_index is not None)
    return Table(is_core, row_type, files, *written, id_index, tuple(fields)) if usable and written else None


def _files(elements: list[Any], above: Any, hits: Hits) -> tuple[str, ...]:
    names = [text_of(location) for e in elements for location in e]
    if not any(names):
        hits.add(NO_LOCATION, META, above.get("rowType") or "", above.sourceline)
    far = [n for n in names if "://" in n or leads_out(n)]
    for name in far:
        hits.add(FAR_LOCATION, META, name, above.sourceline)
    return tuple(n for n in names if n and n not in far)


def _index(element: Any, hits: Hits) -> int | None:
    told = element.get("index")
    if told is None:
        return None
    if re.fullmatch(r"\s*\+?\d{1,6}\s*", told) and int(told) < MOST_COLUMNS:
        return int(told)
    hits.add(BAD_INDEX, META, told, element.sourceline)
    return None


def _field(element: Any, hits: Hits) -> Field | None:
    _strange(element, "field", hits)
    term = (element.get("term") or "").strip()
    if not parted(term)[0] or ":" not in term:
        hits.add(NO_TERM, META, term, element.sourceline)
        return None
    index, default = _index(element, hits), element.get("default")
    if index is None and default is None and element.get("index") is None:
        hits.add(NEITHER, META, term, element.sourceline)
    if is_unknown(term):
        known = meant(term)
        hits.add(UNKNOWN_TERM, META, term + (f" (the known one is {known})" if known else ""), element.sourceline)
    return Field(term, index, default)


def _twice(fields: list[Field], above: Any, hits: Hits) -> None:
    for term, times in Counter(f.term for f in fields).items():
        if times > 1:
            hits.add(TERM_TWICE, META, term, above.sourceline)
    for index, times in Counter(f.index for f in fields if f.index is not None).items():
        if times > 1:
            hits.add(INDEX_TWICE, META, f"column {index} of {parted(above.get('rowType') or '')[1]}", above.sourceline)


def _written(element: Any, hits: Hits) -> tuple[str, str, str, int] | None:
    """Encoding, mark between cells, mark around them, header lines; None when a file cannot be read by them."""
    fine = True
    encoding = element.get("encoding", "UTF-8")
    try:
        plain = "".encode(encoding) == b"" or codecs.lookup(encoding).name.startswith("utf-")
    except (LookupError, UnicodeError):
        plain = False
    if not plain or codecs.lookup(encoding).name in _NO_ENCODINGS:
        hits.add(BAD_ENCODING, META, encoding, element.sourceline)
        fine = False
    delimiter = _plain(element.get("fieldsTerminatedBy", ","))
    quote = _plain(element.get("fieldsEnclosedBy", '"'))
    if len(delimiter) != 1 or len(quote) > 1 or quote == delimiter or delimiter in "\r\n":
        hits.add(BAD_MARKS, META, f"{delimiter!r} between, {quote!r} around", element.sourceline)
        fine = False
    skip = element.get("ignoreHeaderLines", "0").strip()
    if not re.fullmatch(r"\d{1,4}", skip):
        hits.add(BAD_SKIP, META, skip, element.sourceline)
        fine = False
    return (encoding, delimiter, quote, int(skip)) if fine else None


def _plain(text: str) -> str:
    r"""A mark as meta.xml spells it: \t for a tab."""
    return re.sub(r"\\.", lambda m: _ESCAPES.get(m[0], m[0]), text)
