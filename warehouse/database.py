"""The projection's file: built beside the last one and pointed at; opened for reading with the views on top."""

import contextlib
import datetime as dt
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import duckdb

from warehouse.appending import append_loads
from warehouse.asking import Asking
from warehouse.current import Pointer, pointer
from warehouse.sqlfiles import View, events, read_views
from warehouse.views import Views

if TYPE_CHECKING:  # the models load pandera, which a night without news does not need
    from schemas.kinds import Column, Kind

CONFIG: dict[str, str | bool | int | float | list[str]] = {
    "autoinstall_known_extensions": "false",
    "autoload_known_extensions": "false",
    # of the machine's, or of what its container may have: the rest is for the figures, and for what else runs there
    "memory_limit": "60%",
}

LAST_DAY = dt.date(9999, 12, 31)
SMALL = 32 << 20  # bytes of a projection, some 100,000 events

_FIXED_TABLES = {
    "entry": "number bigint, recorded timestamp, what varchar, partner varchar, drop varchar, name varchar, "
    "mapping varchar, rules varchar, retaken boolean",
    "part": "entry bigint, partner varchar, sheet varchar, row bigint, part int, kind varchar, fate varchar, "
    "identity varchar, key varchar, content varchar",
    "fault": 'entry bigint, sheet varchar, row bigint, part int, kind varchar, "column" varchar, heading varchar, '
    "code varchar, found varchar, wanted varchar, advice varchar",
    "asked": "entry bigint, kind varchar, identity varchar, key varchar, row_before bigint, held boolean",
    "returned": "entry bigint, sheet varchar, row bigint, held_entry bigint, held_sheet varchar, held_row bigint",
    "contradicts": "entry bigint, drop varchar",  # drops of one take-in that say different things of one key
}


@dataclass(frozen=True)
class Load:
    """What one entry of the ledger adds: plain values, and the paths and versions of its segments by kind.

    erased: the texts found at fault are gone on purpose; held parts then tell nothing but that. contradicts: drops of
    the same take-in that say otherwise about some key. whole: its part segment holds its events too, as old ones do.
    """

    number: int
    recorded: dt.datetime
    what: str
    partner: str
    drop: str
    name: str
    mapping: str
    rules: str
    retaken: bool
    segments: Mapping[str, Path]
    versions: Mapping[str, int]
    erased: bool = False
    contradicts: tuple[str, ...] = ()
    whole: bool = False


def append(made: Path, loads: Sequence[Load], kinds: "Mapping[str, Kind]", fresh: bool) -> None:
    """Add `loads`, in order, to the projection at `made`; fresh: it is not there yet.

    made is a copy nobody reads. One that turns out to be damaged raises duckdb.Error: start again from nothing.
    """
    with duckdb.connect(str(made), config=CONFIG) as con:
        con.execute("set enable_progress_bar = false")
        if fresh:
            make_tables(con, kinds)
        con.execute("begin")
        append_loads(con, loads, kinds)
        con.execute("commit")
        con.execute("checkpoint")


def clear(folder: Path) -> None:
    """Take away what a stopped run left half made, and every projection that is not pointed at."""
    folder.mkdir(parents=True, exist_ok=True)
    at = pointer(folder)
    for old in (*folder.glob("*.making*"), *folder.glob("warehouse-*.duckdb")):
        if at is None or old.name != at.file:
            with contextlib.suppress(OSError):  # a reader on Windows still has it open; the next run takes it away
                old.unlink()


def duck_type(column: "Column") -> str:
    """The column's type in DuckDB."""
    plain = {"text": "varchar", "whole": "bigint", "day": "date", "instant": "timestamp", "yesno": "boolean"}
    return plain.get(column.type) or f"decimal(18,{column.places})"


def kind_columns(kind: "Kind") -> str:
    """The columns of a kind's base table."""
    own = ", ".join(f'"{c.name}" {duck_type(c)}' for c in kind.columns)
    return (
        "entry bigint, sheet varchar, row bigint, part int, fate varchar, partner varchar, identity varchar, "
        f"content varchar, key varchar, {own}"
    )


def make_tables(con: duckdb.DuckDBPyConnection, kinds: "Mapping[str, Kind]") -> None:
    """Make the base tables, empty."""
    for name, columns in _FIXED_TABLES.items():
        con.execute(f"create table {name} ({columns})")
    for kind in kinds.values():
        con.execute(f"create table {kind.name}_said ({kind_columns(kind)})")


@dataclass(frozen=True)
class RuleTables:
    """The programme's rules as the views want them: a table's name -> its columns and rows."""

    tables: Mapping[str, tuple[str, Sequence[tuple[Any, ...]]]]


@contextlib.contextmanager
def reading(
    folder: Path,
    kinds: "Mapping[str, Kind]",
    rules: RuleTables,
    happened: dt.date | None,
    entry: int | None,
    views: Sequence[View] | None = None,
    beside: Sequence[Load] = (),
) -> Iterator[Asking]:
    """A session with base tables, rules and views as of (happened, entry); None means the last there is.

    views: other view definitions than those of the files, for tests that break them one at a time. beside: what is seen as if it
    were projected too, in this session alone.
    """
    at = pointer(folder)
    if at is None:
        raise FileNotFoundError(f"{folder} holds no projection")
    # what does not fit into memory goes beside the projection, not where the command happens to be given
    con = duckdb.connect(config={**CONFIG, "temp_directory": str(folder / "spilled")})
    try:
        con.execute("set TimeZone = 'UTC'")
        con.execute("set enable_progress_bar = false")  # it would be drawn into what a command answers
        small = _attach(con, folder, at, sum(path.stat().st_size for load in beside for path in load.segments.values()))
        if beside:
            _lay_beside(con, beside, kinds)
        con.execute("set search_path = 'memory,projection'")
        yield prepare_session(con, kinds, rules, happened, entry, views, small)
    finally:
        con.close()


def _lay_beside(con: duckdb.DuckDBPyConnection, loads: Sequence[Load], kinds: "Mapping[str, Kind]") -> None:
    """Views in place of the base tables, which tell what is projected and what the loads add to it."""
    con.execute("attach ':memory:' as beside")
    con.execute("set search_path = 'beside'")
    make_tables(con, kinds)
    append_loads(con, loads, kinds)
    for table in (*_FIXED_TABLES, *(f"{kind}_said" for kind in kinds)):
        con.execute(
            f"create temp view {table} as select * from projection.{table} union all by name select * from beside.{table}"
        )


def parts_by_fate(folder: Path) -> list[tuple[int, str, int]]:
    """How many parts of each entry came to each fate, as the current projection has them. No view is made."""
    at = pointer(folder)
    if at is None:
        raise FileNotFoundError(f"{folder} holds no projection")
    with duckdb.connect(config=CONFIG) as con:
        _attach(con, folder, at)
        return con.sql("select entry, fate, count(*) from projection.part group by all order by all").fetchall()


def _attach(con: duckdb.DuckDBPyConnection, folder: Path, at: Pointer, beside: int = 0) -> bool:
    """Open the projection, or when another run replaced it just now the one that is current by then.

    Gives whether it is small together with so many bytes that are laid beside it.
    """
    file = folder / at.file
    path = str(file).replace("'", "''")
    try:
        con.execute(f"attach '{path}' as projection (read_only)")
    except duckdb.Error:
        now = pointer(folder)
        if now is None or now == at:
            raise
        return _attach(con, folder, now, beside)
    small = False
    with contextlib.suppress(OSError):  # gone meanwhile, though open here
        small = file.stat().st_size + beside < SMALL
    if small:
        con.execute("set threads = 1")  # many small queries: handing work about takes a quarter of their time
    return small


def prepare_session(
    con: duckdb.DuckDBPyConnection,
    kinds: "Mapping[str, Kind]",
    rules: RuleTables,
    happened: dt.date | None,
    entry: int | None,
    views: Sequence[View] | None = None,
    small: bool = False,
) -> Asking:
    """Make as_of and the rules' tables; gives the session in which every view can be asked. small: as `Asking`'s `together`."""
    make_settings(con, kinds, rules, happened, entry)
    asking = Asking(con, [_none(con, v) for v in (views if views is not None else read_views(kinds))], small)
    if happened is None:
        con.execute("update as_of set happened = $day", {"day": last_happened(asking, kinds)})
    asking.keep_light()
    return asking


def _none(con: duckdb.DuckDBPyConnection, view: View) -> View:
    """The view, or what stands in for it where the rules that it rests on are none: it is costly to plan, and few programmes have them."""
    if view.without and not con.execute(f"select count(*) from {view.without}").fetchall()[0][0]:
        return replace(view, sql=view.none)
    return view


def make_settings(
    con: duckdb.DuckDBPyConnection,
    kinds: "Mapping[str, Kind]",
    rules: RuleTables,
    happened: dt.date | None,
    entry: int | None,
) -> None:
    """Make what the views read besides the base tables: as_of, shared_kind and the rules' tables."""
    asked_entry = "(select coalesce(max(number), 0) from entry)" if entry is None else "$entry"
    con.execute(
        "create temp table as_of as select cast(null as date) as happened, cast(null as date) as register_day, "
        f"cast({asked_entry} as bigint) as entry",
        {} if entry is None else {"entry": entry},
    )
    # without an asked day every register holds, also one that begins after the last thing that happened
    con.execute("update as_of set happened = $day, register_day = $day", {"day": happened or LAST_DAY})
    con.execute("create temp table shared_kind (kind varchar)")
    for kind in kinds.values():
        if kind.shared:
            con.execute("insert into shared_kind values ($kind)", {"kind": kind.name})
    for name, (columns, rows) in rules.tables.items():
        con.execute(f"create temp table {name} ({columns})")
        if rows:  # a column at a time: published rates are thousands
            marks = ", ".join(["unnest(?)"] * len(rows[0]))
            con.execute(f"insert into {name} select {marks}", [list(column) for column in zip(*rows, strict=True)])


def make_views(
    con: Views,
    kinds: "Mapping[str, Kind]",
    happened: dt.date | None,
    views: Sequence[View],
    make: Callable[[View], object],
    set_last_day: Callable[[dt.date], object],
) -> None:
    """Make each view by `make`, in order; when no day is asked, find the last one as soon as it can be asked for."""
    needed = {f"ahead_{k}" for k in events(kinds)}
    for view in views:
        make(view)
        needed.discard(view.name)
        if happened is None and not needed:  # every event that is current can now be asked for its day
            happened = last_happened(con, kinds)
            set_last_day(happened)


def days_happened(kinds: "Mapping[str, Kind]") -> str:
    """The query for the last day anything happened, as far as is current by the asked entry.

    What was amended, withdrawn, is in dispute or dated ahead does not count: a slip of the pen would otherwise stay
    the last day. Registers, withdrawals and rulings did not happen in the sea, so their days do not count either.
    """
    told = " union all ".join(
        f"select max(n.happened) as day from {k}_now n left join ahead_{k} x on x.identity = n.identity where x.identity is null"
        for k in events(kinds)
    )
    return f"select max(day) from ({told}) told"


def last_happened(con: Views, kinds: "Mapping[str, Kind]") -> dt.date:
    """What `days_happened` finds; 1950-01-01 for an empty ledger."""
    [(day,)] = con.sql(days_happened(kinds)).fetchall()
    return day or dt.date(1950, 1, 1)
