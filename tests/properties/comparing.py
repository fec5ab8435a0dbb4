"""The views and the fold side by side: what each says of a programme as of a day and an entry, in one shape."""

import datetime as dt
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import duckdb
import fold
import kept

from pipeline import run
from pipeline.programme import open_programme
from pipeline.rule_tables import rule_tables
from schemas.kinds import all_kinds
from warehouse import database
from warehouse.sqlfiles import View, only_for, read_views

ASKED = (  # views of which the fold has a word, beside <kind>_now
    "withdrawn in_dispute held_open waiting unit_life frame_count survey_round treated_area cost_input cost_parted"
)
Said = dict[str, Any]  # a word such as "current" or "lives" -> a set or a dictionary


def by_views(root: Path, asked: run.Asked, views: Sequence[View] | None = None) -> Said:
    """What the SQL says."""
    rules = run.rules_as_of(open_programme(root), asked)
    kinds = all_kinds()
    asking = " ".join([ASKED, *(f"{k}_now" for k in kinds), database.days_happened(kinds)])
    few = only_for(asking, views or read_views(kinds))
    with database.reading(root / "warehouse", kinds, rule_tables(rules), asked.happened, asked.entry, few) as con:
        known = "select identity from part, as_of where part.entry <= as_of.entry"
        paid = _rows(
            con,
            "select coalesce(site_key, share_key), form, currency, per_unit, sum(hundredths) from cost_input group by all",
        )
        parted = _rows(con, "select identity, site_key, units, per_unit, hundredths from cost_parted")
        frame = ", ".join(fold.FRAME)
        return {
            "day": _rows(con, "select happened from as_of")[0][0],
            "withdrawn": set(_rows(con, f"select identity from withdrawn where identity in ({known})")),
            "disputed": set(_rows(con, "select identity from in_dispute")),
            "current": {(k, *r) for k in kinds for r in _rows(con, f"select identity, content, entry from {k}_now")},
            "held": set(_rows(con, "select entry, sheet, row, part from held_open")),
            "waits": set(_rows(con, "select kind, identity from waiting")),
            "lives": _lives(_rows(con, "select unit_key, l, r, misses, unresolved <> '' from unit_life")),
            "counts": sorted(
                tuple(map(str, r))
                for r in _rows(con, f"select {frame}, species, stage, count, area_m2 from frame_count")
            ),
            "rounds": set(_rows(con, "select site_key, happened, round_on from survey_round")),
            "treated": set(_rows(con, "select site_key, units, area_m2 from treated_area")),
            "costs": {("whole", *k): n for *k, n in paid} | {("parted", i, *k): n for i, *k, n in parted},
        }


def by_fold(root: Path, asked: run.Asked) -> Said:
    """What plain Python says."""
    rules = run.rules_as_of(open_programme(root), asked)
    state = fold.fold(kept.read(root / "ledger"), rules, asked.happened, asked.entry)
    lives = fold.lives(state, rules).items()
    return {
        "day": state.happened,
        "withdrawn": {(i,) for i in state.withdrawn},
        "disputed": {(i,) for i in state.disputed},
        "current": {(k, p["identity"], p["content"], p["entry"]) for k, rows in state.now.items() for p in rows},
        "held": {(p["entry"], p["sheet"], p["row"], p["part"]) for p in state.held},
        "waits": state.waits,
        "lives": _lives([(u, x.left, x.right, x.misses, x.unresolved) for u, x in lives]),
        "counts": sorted(tuple(map(str, (*k, *v))) for k, v in fold.counts(state, rules).items()),
        "rounds": {(*k, day) for k, day in fold.rounds(state, rules).items()},
        "treated": {(site, *told) for site, told in fold.treated(state, rules).items()},
        "costs": fold.costs(state, rules),
    }


def differing(one: Said, other: Said) -> dict[str, tuple[Any, Any]]:
    """The words on which two disagree, each with what only the one and only the other says."""
    apart = {}
    for word, here in one.items():
        there = other[word]
        if here != there:
            both = [
                x.items() if isinstance(x, dict) else x if isinstance(x, set | list) else [x] for x in (here, there)
            ]
            apart[word] = ([x for x in both[0] if x not in both[1]], [x for x in both[1] if x not in both[0]])
    return apart


def times_to_ask(root: Path) -> list[run.Asked]:
    """As of all there is; of half of the days; of each of two earlier entries, on the last and on an earlier day."""
    ledger = kept.read(root / "ledger")
    days = sorted({p["happened"] for p in ledger.parts if p.get("happened")}) or [dt.date(2025, 1, 1)]
    last = len(ledger.entries)
    middle = days[len(days) // 2]
    return [run.LATEST, run.Asked(happened=middle), run.Asked(entry=last * 2 // 3 or 1),
            run.Asked(happened=middle, entry=last // 3 or 1)]  # fmt: skip


def _rows(con: duckdb.DuckDBPyConnection, query: str) -> list[tuple[Any, ...]]:
    return con.sql(query).fetchall()


def _lives(rows: list[tuple[Any, ...]]) -> Said:
    """Of a life that is unresolved, only that it is."""
    return {unit: "unresolved" if odd else (left, right, misses) for unit, left, right, misses, odd in rows}
