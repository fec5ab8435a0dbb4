"""What the ledger already says about the things that staged drops speak of, as tables for the judge.

Only rows that matter are loaded: those whose identity the staged drops name, and those of the files they replace.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import duckdb
import pyarrow as pa

from pipeline.ledger.entry import Entry
from pipeline.ledger.fates import PART, parts_sql, with_parts
from pipeline.ledger.identity import ordinal_identity_sql
from pipeline.ledger.staging import Staged
from pipeline.ledger.store import Ledger
from warehouse.sqlfiles import text_of

BIG = 200_000  # parts of a drop from which they are read where they lie, not copied into memory


@dataclass(frozen=True)
class Cached:
    """A projection that already holds the parts of every entry up to `number`."""

    path: Path
    number: int


def load_known(
    con: duckdb.DuckDBPyConnection,
    ledger: Ledger,
    entries: Sequence[Entry],
    staged: Sequence[Staged],
    cached: Cached | None,
    keyless: Sequence[str],
) -> None:
    """Make part_read (and its halves, part_loaded and part_lying, of which good_lying is the good ones), known_part, current,
    told_before, last_word, ruled, taken_back, disputed and resent (see `judge.judge`).

    keyless: kinds whose rows may have no key. They get their ordinals over the whole drop before anything is looked
    up, so that a bill handed in again is known again.
    """
    _load_staged(con, staged, keyless)
    for kind in keyless:
        _give_ordinals(con, kind)
    # one table at once: of many thousand entries, row by row would take longer than all the rest
    told = {
        "number": pa.array([e.number for e in entries], pa.int64()),
        "partner": pa.array([e.partner for e in entries], pa.string()),
        "drop": pa.array([e.drop for e in entries], pa.string()),
        "retaken": pa.array([e.retaken for e in entries], pa.bool_()),
        "day": pa.array([e.recorded[:10] for e in entries], pa.string()),
    }
    con.register("entry", pa.table(told))
    beside = [(e.number, drop) for e in entries for drop in e.disputed_with]
    con.register(
        "contradicts",
        pa.table(
            {
                "entry": pa.array([n for n, _ in beside], pa.int64()),
                "drop": pa.array([d for _, d in beside], pa.string()),
            }
        ),
    )
    _load_parts(con, ledger, entries, staged, cached)
    _load_rulings(con, ledger, entries)
    con.execute(_CURRENT)
    _load_unsaid(con, ledger, entries)
    _load_withdrawals(con, ledger, entries)
    con.execute(_LAST_WORDS)
    con.execute("create temp table disputed (pos int, identity varchar, content varchar)")
    recorded = {e.drop for e in entries}
    for at, drop in enumerate(staged):
        for e in entries if drop.drop not in recorded else ():  # only a stop leaves out a drop that others name
            if drop.drop in e.disputed_with:
                con.execute(
                    "insert into disputed select $pos, identity, content from known_part where entry = $entry and fate = 'conflict' "
                    "and identity not in (select identity from ruled)",
                    {"pos": at, "entry": e.number},
                )


_LYING = pa.schema(
    [("file", pa.string()), ("name", pa.string()), ("pos", pa.int32()), ("partner", pa.string()),
     ("drop_hash", pa.string()), ("retaken", pa.bool_()), ("records", pa.int64())]
)  # fmt: skip


def _load_staged(con: duckdb.DuckDBPyConnection, staged: Sequence[Staged], keyless: Sequence[str]) -> None:
    """part_read: small drops in a table (part_loaded), so that thousands of files are opened once; big ones where they lie
    (part_lying), since they may be more than fits into memory. Things without a key get theirs in the table."""
    con.execute(
        "create temp table part_loaded (pos int, partner varchar, drop_hash varchar, retaken boolean, records bigint, sheet varchar, row bigint, "
        "part int, kind varchar, fate varchar, identity varchar, key varchar, content varchar)"
    )
    lying: list[tuple[int, Staged]] = []
    for at, drop in enumerate(staged):
        if drop.parts and _is_loaded(drop, keyless):
            con.execute(f"insert into part_loaded {_where_it_lies(at, drop)}")
        elif drop.parts:
            lying.append((at, drop))
    files = [(name, str(path), at, d) for at, d in lying for name, path in d.parts_files().items()]
    of_file = {
        "file": [path for _, path, *_ in files], "name": [name for name, *_ in files],
        "pos": [at for *_, at, _ in files], "partner": [d.partner for *_, d in files],
        "drop_hash": [d.drop for *_, d in files], "retaken": [d.retaken for *_, d in files], "records": [d.records for *_, d in files],
    }  # fmt: skip
    con.register("lying", pa.table(of_file, _LYING))
    con.execute(
        f"create temp view good_lying as {_lying([path for name, path, *_ in files if name != PART], 'l.name')}"
    )
    faulty = _lying([path for name, path, *_ in files if name == PART], "p.kind")
    con.execute(f"create temp view part_lying as select * from good_lying union all {faulty}")
    con.execute("create temp view part_read as select * from part_loaded union all select * from part_lying")


def _lying(files: Sequence[str], kind: str) -> str:
    """The parts in those files, in one scan: a scan each would hold memory for each of them until the last is read."""
    if not files:
        return "select * from part_loaded where false"
    return (
        f"select cast(l.pos as int) as pos, l.partner, l.drop_hash, l.retaken, l.records, sheet, row, part, {kind}, fate, identity, key, "
        f"content from read_parquet([{', '.join(map(_text, files))}], filename='file', hive_partitioning=false) p "
        "join lying l on l.file = p.file"
    )


def parts_of(at: int, drop: Staged, keyless: Sequence[str]) -> str:
    """SQL of the rows of part_read that are of one drop, without looking at those of the others."""
    return f"select * from part_loaded where pos = {at}" if _is_loaded(drop, keyless) else _where_it_lies(at, drop)


def _is_loaded(drop: Staged, keyless: Sequence[str]) -> bool:
    return drop.parts < BIG or bool(set(keyless) & set(drop.kinds))


def _where_it_lies(at: int, drop: Staged) -> str:
    told = f"select {at} as pos, {_text(drop.partner)} as partner, {_text(drop.drop)} as drop_hash, {drop.retaken} as retaken, "
    told += f"{drop.records} as records, *"
    files = {
        name: f"read_parquet({_text(str(path))}, hive_partitioning=false)" for name, path in drop.parts_files().items()
    }
    return " union all ".join(f"{told} from ({parts_sql(name, file)})" for name, file in files.items())


def _give_ordinals(con: duckdb.DuckDBPyConnection, kind: str) -> None:
    made = ordinal_identity_sql(kind, "p.partner", "p.content", "n.nth")
    con.execute(f"""
        update part_loaded p set identity = {made}, key = left(p.content, 8) || ' ' || n.nth
        from (select pos, sheet, row, part, row_number() over (partition by pos, content order by sheet, row, part) as nth
              from part_loaded where kind = '{kind}' and fate = 'entered' and identity is null) n
        where p.pos = n.pos and p.sheet = n.sheet and p.row = n.row and p.part = n.part and p.kind = '{kind}'
          and p.identity is null and p.fate = 'entered'""")


def _load_parts(
    con: duckdb.DuckDBPyConnection,
    ledger: Ledger,
    entries: Sequence[Entry],
    staged: Sequence[Staged],
    cached: Cached | None,
) -> None:
    con.execute(
        "create temp table known_part (entry bigint, partner varchar, sheet varchar, row bigint, kind varchar, fate varchar, "
        "identity varchar, key varchar, content varchar)"
    )
    con.execute("create temp table resent (pos int, entry bigint)")
    for at, drop in enumerate(staged):
        if drop.retaken:
            before = [e.number for e in entries if (e.partner, e.drop) == (drop.partner, drop.drop)]
        else:
            before = [e.number for e in entries if e.drop and (e.partner, e.name) == (drop.partner, drop.name)]
        if before:
            con.execute("insert into resent values ($pos, $entry)", {"pos": at, "entry": before[-1]})
    if not entries:
        return
    wanted = "(identity in (select identity from part_read) or entry in (select entry from resent))"
    columns = "entry, partner, sheet, row, kind, fate, identity, key, content"
    start = 0
    if cached is not None:
        path = str(cached.path).replace("'", "''")
        con.execute(f"attach '{path}' as cached (read_only)")
        con.execute(f"insert into known_part select {columns} from cached.part where {wanted}")
        con.execute("detach cached")
        start = cached.number
    # equal bytes make one file: each entry that cites it is a row of its own
    cited = [(s.kind, str(ledger.segment_path(s)), e.number, e.partner)
             for e in entries if e.number > start for s in with_parts(e)]  # fmt: skip
    if cited:
        names, files, numbers, partners = (list(x) for x in zip(*cited, strict=True))
        con.register("segment_of", pa.table({"file": files, "entry": numbers, "partner": partners}))
        of_name = {name: sorted({file for n, file, *_ in cited if n == name}) for name in dict.fromkeys(names)}
        every = " union all ".join(
            parts_sql(name, f"read_parquet(${name}, filename='file', hive_partitioning=false)", "file,")
            for name in of_name
        )
        con.execute(
            f"insert into known_part select {columns} from (select p.*, s.entry, s.partner "
            f"from ({every}) p join segment_of s on s.file = p.file) where {wanted}",
            of_name,
        )


def _load_rulings(con: duckdb.DuckDBPyConnection, ledger: Ledger, entries: Sequence[Entry]) -> None:
    """The newest ruling on each identity, as the views read them: an older one is over."""
    con.execute("create temp table ruled (identity varchar, content varchar, entry bigint)")
    for e in entries:
        segment = e.segment("ruling")
        if segment is not None and e.partner == "programme":  # nobody else decides for others
            given = {"entry": e.number, "path": str(ledger.segment_path(segment))}
            newest = """
                select settles as identity, nullif(choice, 'none') as content, $entry as entry
                from read_parquet($path, hive_partitioning=false) where fate in ('entered', 'amends')
                qualify row_number() over (partition by settles order by row desc, part desc) = 1"""
            con.execute(f"delete from ruled where identity in (select identity from ({newest}))", given)
            con.execute(f"insert into ruled {newest}", given)


def _load_unsaid(con: duckdb.DuckDBPyConnection, ledger: Ledger, entries: Sequence[Entry]) -> None:
    """What drops that were read again no longer say: there are few of them."""
    con.execute("create temp table asked (entry bigint, identity varchar, held boolean)")
    for e in entries:
        segment = e.segment("asked") if e.retaken else None
        if segment is not None:
            con.execute(
                "insert into asked select $entry, identity, held from read_parquet($path, hive_partitioning=false)",
                {"entry": e.number, "path": str(ledger.segment_path(segment))},
            )


def _load_withdrawals(con: duckdb.DuckDBPyConnection, ledger: Ledger, entries: Sequence[Entry]) -> None:
    con.execute("create temp table taken_back (identity varchar, partner varchar)")
    for e in entries:
        segment = e.segment("withdrawal")
        if segment is not None:
            # a key stands for the same thing whether its event came before or comes now; one takes back one's own word
            con.execute(
                """insert into taken_back
                   select distinct t.identity, t.partner
                   from (select partner, kind, key, identity from part_read
                         union all select partner, kind, key, identity from known_part) t
                   join read_parquet($path, hive_partitioning=false) w on w.withdraws_kind = t.kind and rtrim(w.withdraws_key, ' |') = t.key
                   where w.fate in ('entered', 'amends') and t.identity is not null
                     and w.partner in (t.partner, 'programme')
                     and t.identity not in (select identity from ruled where content is not null and entry > $entry)""",
                {"path": str(ledger.segment_path(segment)), "entry": e.number},
            )


def _text(value: str) -> str:
    return "'" + value.replace("'", "''") + "'"


_CURRENT = """
create temp table current as
    select identity, content, partner from (
        select identity, content, partner, row_number() over (partition by identity order by since desc, entry, row) as newest
        from (
            select identity, content, partner, entry, row, entry as since from known_part where fate in ('entered', 'amends')
            union all
            select p.identity, p.content, p.partner, p.entry, p.row, r.entry as since
            from known_part p join ruled r on r.identity = p.identity and r.content = p.content
        )
    ) where newest = 1;
create temp table told_before as
    select identity, partner, content, min(entry) as entry, bool_or(fate in ('entered', 'amends')) as stood,
        bool_or(fate <> 'question') as was_word
    from known_part where fate <> 'faulty' and identity is not null group by identity, partner, content;
"""

# The view of the warehouse, over the same names: what the judge goes by and what figures go by cannot differ.
_LAST_WORDS = f"""
create temp view part as select * from known_part;
create temp view settled as select identity, content from current;
create temp table as_of as select coalesce(max(number), 0) as entry from entry;
create temp view taken_word as select identity, partner from taken_back;
create temp table quarrelled as select distinct identity from known_part where identity is not null;
create temp table last_word as {text_of("last_word")};
"""
