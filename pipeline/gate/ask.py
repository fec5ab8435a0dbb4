"""Asks the rows: all rules of one view in one pass, those that were hit in a second, for an example of each."""

import datetime as dt
import re
from collections.abc import Sequence
from dataclasses import dataclass

import duckdb

from pipeline.gate.rule import Hits, RowRule
from pipeline.gate.rules import dates, links, measured, names, place, scope, wanted
from pipeline.gate.tables import FILE

RULES: tuple[RowRule, ...] = tuple(
    rule for family in (links, place, dates, names, measured, scope, wanted) for rule in family.RULES
)
TERMS = frozenset(re.findall(r'"([A-Za-z]+)"', " ".join(f"{r.where} {r.value}" for r in RULES)))  # that the rules name
SHOWN = 80  # characters of a value


@dataclass(frozen=True)
class View:
    """Rows that rules are asked of: what the rules call them, SQL to read them from, and the files they stand in."""

    name: str
    source: str
    files: tuple[str, ...]


def ask(db: duckdb.DuckDBPyConnection, views: Sequence[View], today: dt.date, hits: Hits) -> None:
    """Note among the hits every rule that rows of these views break. today: after it lies the future."""
    for view in views:
        rules = [r for r in RULES if view.name in r.of]
        if not rules:
            continue
        wheres = [f"nullif(({r.where}), false)".replace("$today", f"date '{today.isoformat()}'") for r in rules]
        rows = _one_row(db, view, [f"count(h{i})" for i in range(len(rules))], wheres)
        hit = [i for i, n in enumerate(rows) if n]
        firsts = _one_row(db, view, [f"min(_at) filter (h{i})" for i in range(len(hit))], [wheres[i] for i in hit])
        for i, at in zip(hit, firsts, strict=True):
            shown = f"select _name, {rules[i].value} from {view.source} where _at = {at}"
            name, value = db.execute(shown).fetchall()[0]
            hits.add(rules[i], view.files[at // FILE], str(value or "")[:SHOWN], at % FILE, name or "", rows[i])


def _one_row(db: duckdb.DuckDBPyConnection, view: View, sums: Sequence[str], wheres: Sequence[str]) -> tuple[int, ...]:
    """One pass over a view: these sums of h0, h1, ..., which say of each row whether it breaks the rule."""
    if not wheres:
        return ()
    flags = ", ".join(f"{where} as h{i}" for i, where in enumerate(wheres))
    found: tuple[int, ...] = db.execute(
        f"select {', '.join(sums)} from (select _at, {flags} from {view.source})"
    ).fetchall()[0]
    return found
