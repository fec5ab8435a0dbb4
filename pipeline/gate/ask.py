"""Asks the rows: all rules of one view in one pass, then one example of each that was hit."""

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
        asked = [_now(r.where, today) for r in rules]
        flags = ", ".join(f"({where}) as h{i}" for i, where in enumerate(asked))
        counts = ", ".join(f"count(*) filter (h{i}), min(_at) filter (h{i})" for i in range(len(rules)))
        told = db.sql(f"select {counts} from (select _at, {flags} from {view.source})").fetchall()[0]
        for i, rule in enumerate(rules):
            rows, at = told[2 * i : 2 * i + 2]
            if rows:
                name, value = db.sql(f"select _name, {rule.value} from {view.source} where _at = {at}").fetchall()[0]
                hits.add(rule, view.files[at // FILE], str(value or "")[:SHOWN], at % FILE, name or "", rows)


def _now(where: str, today: dt.date) -> str:
    return where.replace("$today", f"date '{today.isoformat()}'")
