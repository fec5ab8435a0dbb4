"""Which things only waited until now: their current word names a site, plot or bed that nobody had told of, so that word does not count."""

from collections import defaultdict
from collections.abc import Mapping, Sequence

import duckdb

from pipeline.ledger.entry import Entry
from pipeline.ledger.store import Ledger
from schemas.kinds import Kind
from warehouse.sqlfiles import WAITS, references


def load_waited(
    con: duckdb.DuckDBPyConnection, ledger: Ledger, entries: Sequence[Entry], kinds: Mapping[str, Kind]
) -> None:
    """Make only_waited (identity), of the things that `amending` speaks of. con: with known_part and current, as `known.load_known` made them.

    Registers are those of the ledger before this take-in, whoever handed them in; what it brings is judged with it, in any order.
    """
    con.execute("create or replace temp table only_waited (identity varchar)")
    asked = con.sql(
        """select distinct p.entry, p.kind, p.sheet, p.row, p.identity, p.content
           from (select distinct identity from amending) a
           join current c on c.identity = a.identity
           join known_part p on p.identity = c.identity and p.content = c.content and p.fate in ('entered', 'amends', 'conflict', 'question')"""
    ).fetchall()
    if not asked:
        return
    by_number, found = {e.number: e for e in entries}, list[str]()
    of_segment: dict[tuple[int, str], set[tuple[str, str]]] = defaultdict(set)
    for entry, kind, _, _, identity, content in asked:
        of_segment[entry, kind].add((identity, content))
    known = {target: _registered(con, ledger, entries, target) for target in WAITS}
    for (number, kind), mine in sorted(of_segment.items()):
        named = [r for r in references(dict(kinds)) if r.kind == kind and r.target in WAITS]
        segment = by_number[number].segment(kind)
        if not named or segment is None:
            continue
        ledger.prove(by_number[number], [segment])
        columns = {r.column for r in named} | ({"site_key"} if any(r.target == "plot" for r in named) else set())
        picked = ", ".join(f'"{c}"' for c in sorted(columns))
        rows = con.execute(
            f"select identity, content, {picked} from read_parquet($path, hive_partitioning=false) where list_contains($asked, identity)",
            {"path": str(ledger.segment_path(segment)), "asked": sorted({identity for identity, _ in mine})},
        ).fetchall()
        for identity, content, *values in rows:
            told = dict(zip(sorted(columns), values, strict=True))
            keys = [
                (r.target, f"{told['site_key']} | {told[r.column]}" if r.target == "plot" else told[r.column])
                for r in named
                if told[r.column]
            ]
            if (identity, content) in mine and any(key not in known[target] for target, key in keys):
                found.append(identity)
    con.execute("insert into only_waited select unnest($found)", {"found": found})


def _registered(con: duckdb.DuckDBPyConnection, ledger: Ledger, entries: Sequence[Entry], kind: str) -> set[str]:
    """The keys of a register as the ledger tells them."""
    found: set[str] = set()
    for e in entries:
        segment = e.segment(kind)
        if segment is not None:
            ledger.prove(e, [segment])
            keys = con.execute(
                "select distinct key from read_parquet($path, hive_partitioning=false) where fate in ('entered', 'amends') and key is not null",
                {"path": str(ledger.segment_path(segment))},
            ).fetchall()
            found |= {key for (key,) in keys}
    return found
