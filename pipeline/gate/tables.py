"""The rows of an archive in a database on disk, as views whose columns are named by terms; empty cells are null.

    event       rows of an Event core                    scope      rows of Humboldt's extension
    occurrence  rows of Occurrence, core or extension    measured   rows of MeasurementOrFact, plain or extended
    survey      events that occurrences hang on; sampling: the same, or the occurrences themselves where they are the core
    child       events with the days of their parent
    record      each occurrence with position, depth and day from its event, and (..._up) from any event above

Every view has `_at` (file and row), `_id` (the core's id), `_name` (what the row is called) and all terms that are asked
about, null where a file lacks one. Ragged rows are told of and are in no view but `ids`, so that they break no other rule.
Memory is bounded: DuckDB spills to the folder of the database.
"""

from collections.abc import Iterable, Sequence
from pathlib import Path

import duckdb

from pipeline.gate.dates import spoken
from pipeline.gate.descriptor import Described, Table
from pipeline.gate.files import LONGEST_LINE, Ready
from pipeline.gate.land import ashore
from pipeline.gate.outlines import outlined
from pipeline.gate.rule import Effect, Hits, Rule
from pipeline.gate.terms import column_of

MEMORY = "1GB"
FILE = 10_000_000_000  # _at is the file's number times this, and the row's number
NOWHERE = "\x01"  # stands for no text in any file, so that an empty cell and a lacking one differ

_GUIDE = "Darwin Core text guide; that such rows are lost is from memory"
TOO_SHORT = Rule("row too short", "as many cells in every row as in the first", Effect.DROPS, Effect.DROPS, _GUIDE)
TOO_LONG = Rule("row too long", "as many cells in every row as in the first", Effect.DROPS, Effect.DROPS, _GUIDE)
NOT_PARTED = Rule("row cannot be parted", "cells whose quotation marks close", Effect.DROPS, Effect.DROPS, _GUIDE)
NOT_READ = Rule("file cannot be read", "rows of cells, as meta.xml tells", Effect.REFUSES, Effect.REFUSES, "text guide")
NULL_WORD = Rule(
    "word for no value",
    r"an empty cell where there is no value, no \N or NULL",
    Effect.FLAGS,
    Effect.FLAGS,
    "text guide",
)

# (what it is, its terms): what a child event or an occurrence takes from the event above it
PLACE = ("decimalLatitude", "decimalLongitude", "coordinateUncertaintyInMeters", "geodeticDatum", "eventDate",
         "minimumDepthInMeters", "maximumDepthInMeters")  # fmt: skip

KEYS = ("eventID", "parentEventID", "occurrenceID")


def open_database(folder: Path) -> duckdb.DuckDBPyConnection:
    """A database of its own in this folder, within bounded memory, with the rules' few helpers."""
    db = duckdb.connect(folder / "gate.duckdb")
    db.execute(f"set memory_limit = '{MEMORY}'; set preserve_insertion_order = true")
    db.execute("create macro num(x) as case when isfinite(try_cast(x as double)) then try_cast(x as double) end")
    return db


def load(db: duckdb.DuckDBPyConnection, number: int, table: Table, files: Sequence[Ready], hits: Hits) -> int | None:
    """One core or extension as table `t<number>`; gives the number of its rows, None when it cannot be read."""
    taken = {}
    for f in table.fields:
        if (column := column_of(f.term)) and column not in taken:
            taken[column] = f
    columns = [f"{_cell(f.index, f.default)} as {_quoted(column)}" for column, f in taken.items()]
    for i, file in enumerate(files):
        first = f"c{table.id_index}" if table.id_index is not None else "null"
        last = f"c{file.columns - 1}"
        rows = _reader(table, file)
        made = f"insert into t{number}" if i else f"create table t{number} as"
        select = ", ".join([
            f"{i} * {FILE} + {table.skip} + row_number() over () as _at",
            f"nullif(trim({first}), '') as _id",
            f"case when c{file.columns} is not null then 1 when {last} is null then -1 end as _ragged",
            *columns,
        ])  # fmt: skip
        if not _filled(db, f"{made} select {select} from ", rows, file, hits):
            return None
        _ragged(db, number, i, file, hits)
    _null_words(db, number, [c for c, f in taken.items() if f.index is not None], files, hits)
    return int(db.execute(f"select count(*) from t{number}").fetchall()[0][0])


def _filled(db: duckdb.DuckDBPyConnection, made: str, rows: str, file: Ready, hits: Hits) -> bool:
    """Read a file on all cores; on one where quoted cells hold line breaks, which several cannot part."""
    why = ""
    for parallel in ("true", "false"):
        try:
            db.execute(made + rows.format(parallel=parallel))
            return True
        except duckdb.Error as e:
            why = str(e)
    hits.add(NOT_READ, file.name, why.partition("\n")[0])
    return False


def _cell(index: int | None, default: str | None) -> str:
    constant = _text(default) if default else "null"
    return constant if index is None else f"coalesce(nullif(trim(c{index}), ''), {constant})"


def _reader(table: Table, file: Ready) -> str:
    columns = ", ".join(f"'c{i}': 'VARCHAR'" for i in range(file.columns + 1))
    line_end = file.line_end.replace("\r", "\\r").replace("\n", "\\n")
    return (
        f"read_csv({_text(str(file.path))}, auto_detect = false, header = false, skip = {table.skip}, "
        f"delim = {_text(table.delimiter)}, quote = {_text(table.quote)}, escape = {_text(table.quote)}, "
        f"new_line = '{line_end}', nullstr = '{NOWHERE}', columns = {{{{{columns}}}}}, null_padding = true, "
        f"ignore_errors = true, store_rejects = true, rejects_limit = 0, max_line_size = {LONGEST_LINE}, "
        "parallel = {parallel})"
    )


def _ragged(db: duckdb.DuckDBPyConnection, number: int, i: int, file: Ready, hits: Hits) -> None:
    """Rows with too many or too few cells, and those that the reader could not part."""
    for way, rule in ((-1, TOO_SHORT), (1, TOO_LONG)):
        found = db.execute(
            f"select count(*), min(_at) % {FILE}, arg_min(_id, _at) from t{number} "
            f"where _ragged = {way} and _at // {FILE} = {i}"
        ).fetchall()[0]
        if found[0]:
            hits.add(rule, file.name, f"{file.columns} cells are wanted", found[1], found[2] or "", found[0])
    broken = "select error_type = 'TOO MANY COLUMNS', count(*), min(line), arg_min(csv_line, line) from reject_errors group by 1"
    for too_long, rows, line, text in db.execute(broken).fetchall():
        hits.add(TOO_LONG if too_long else NOT_PARTED, file.name, (text or "").strip()[:80], line, "", rows)
    db.execute("delete from reject_errors; delete from reject_scans")


def _null_words(
    db: duckdb.DuckDBPyConnection, number: int, columns: list[str], files: Sequence[Ready], hits: Hits
) -> None:
    if not columns:
        return
    words = " or ".join(f"{_quoted(c)} in ('\\N', 'NULL', 'null')" for c in columns)
    found = db.execute(f"select count(*), min(_at), arg_min(_id, _at) from t{number} where {words}").fetchall()[0]
    if found[0]:
        hits.add(NULL_WORD, files[found[1] // FILE].name, "", found[1] % FILE, found[2] or "", found[0])


def make_views(db: duckdb.DuckDBPyConnection, archive: Described, terms: Iterable[str]) -> dict[str, int]:
    """All the views over what was loaded, with these terms; gives the number of the table behind each."""
    asked = sorted({*terms, *PLACE, *KEYS})
    loaded = {row[0] for row in db.execute("select table_name from duckdb_tables()").fetchall()}
    tables = [(n, t) for n, t in enumerate(archive.tables) if f"t{n}" in loaded]
    placed = [f"t{n}" for n, t in tables if t.role in ("event", "occurrence")]
    spoken(db, placed)
    ashore(db, placed)
    outlined(db, placed)
    behind: dict[str, int] = {}
    for n, t in tables:
        if t.role and (t.role != "event" or t.is_core):
            behind.setdefault(t.role, n)
    for role in ("event", "occurrence", "measured", "scope"):
        _wide(db, role, behind.get(role), asked)
    db.execute("create view ids as select _id, _at from t0")
    db.execute(
        f"create table event_one as select _id, _at, _first, _last, {', '.join(map(_quoted, (*KEYS, *PLACE)))} from event where _id is not null "
        "qualify row_number() over (partition by _id order by _at) = 1"
    )
    _inherit(db)
    is_core = archive.tables[0].role == "occurrence"
    _records(db, is_core)
    db.execute("create view survey as select * from event where _id in (select _id from occurrence)")
    db.execute(f"create view sampling as select * from {'occurrence' if is_core else 'survey'}")
    db.execute(f"create view occurrence_of_event as select * from occurrence where {not is_core}")
    db.execute(
        "create view child as select e.*, a._first as _above_first, a._last as _above_last "
        'from event e join event_one a on a._id = e."parentEventID"'
    )
    above = {"survey": "event", "child": "event", "record": "occurrence", "occurrence_of_event": "occurrence"}
    above["sampling"] = "occurrence" if is_core else "event"
    return behind | {view: behind[role] for view, role in above.items() if role in behind}


def _wide(db: duckdb.DuckDBPyConnection, role: str, number: int | None, asked: Sequence[str]) -> None:
    """A role's rows with the terms that are asked about, what its eventDate says, and whether its place is on land."""
    has = set() if number is None else {row[0] for row in db.execute(f"describe t{number}").fetchall()}
    source = "(select null::bigint as _at, null::varchar as _id, 1 as _ragged)" if number is None else f"t{number}"
    columns = ", ".join(_quoted(c) if c in has else f"null::varchar as {_quoted(c)}" for c in asked)
    called = [_quoted(c) for c in ("occurrenceID", "eventID") if c in has and role in ("event", "occurrence")]
    db.execute(
        f"create view {role} as select r.*, d.* exclude (said), o.* exclude (wkt), a.state as _land from (select _at, _id, "
        f"coalesce({', '.join([*called, '_id'])}) as _name, {columns} from {source} where _ragged is null) r "
        'left join spoken d on d.said = r."eventDate" left join outlined o on o.wkt = r."footprintWKT" left join ashore a on a.lat = r."decimalLatitude" '
        'and a.lon = r."decimalLongitude" and a.radius is not distinct from r."coordinateUncertaintyInMeters"'
    )


def _inherit(db: duckdb.DuckDBPyConnection) -> None:
    """`chain`: each event and every event above it; `event_full`: events with what they lack taken from above."""
    db.execute("""
        create table chain as
        with recursive up(id, above, level) as (
            select _id, "parentEventID", 1 from event_one where "parentEventID" is not null
            union all
            select up.id, e."parentEventID", level + 1 from up join event_one e on e._id = up.above
            where e."parentEventID" is not null and level < 30 and up.above <> up.id
        ) select * from up""")
    own = ", ".join(
        f'coalesce(any_value(e."{c}"), arg_min(a."{c}", level) filter (a."{c}" is not null)) as "{c}"' for c in PLACE
    )
    db.execute(
        f"create table event_full as select e._id, {own} from event_one e left join chain on chain.id = e._id "
        "left join event_one a on a._id = chain.above group by e._id"
    )


def _records(db: duckdb.DuckDBPyConnection, is_core: bool) -> None:
    near = ", ".join(f'coalesce(o."{c}", e."{c}") as "{c}", coalesce(o."{c}", f."{c}") as "{c}_up"' for c in PLACE)
    own = ", ".join(f'o."{c}", o."{c}" as "{c}_up"' for c in PLACE)
    joined = "" if is_core else "left join event_one e on e._id = o._id left join event_full f on f._id = o._id"
    db.execute(
        f"create view record as select o._at, o._id, o._name, {own if is_core else near} from occurrence o {joined}"
    )


def _quoted(name: str) -> str:
    return f'"{name}"'


def _text(text: str) -> str:
    return "'" + text.replace("'", "''") + "'"
