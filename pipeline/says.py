"""What an event says, in our column names: its filled values, those that matter first."""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Mapping
from decimal import Decimal
from typing import Any

import pyarrow as pa

from schemas.kinds import Kind
from warehouse.asking import Asking

Saying = tuple[tuple[str, str], ...]  # column and value, as a person reads them

# Told first wherever they occur: what a reader looks for.
FIRST = (
    "count", "cover_pct", "state", "count_found", "outcome", "form", "amount", "currency", "plot_kind", "action", "step",
    "how_known", "area_m2", "plants_cut", "method", "fixing", "category", "phase", "adults", "fertile", "name",
)  # fmt: skip
# Who wrote it down, and what else is no value of the thing itself.
ASIDE = (
    "dive_number", "recorded_by", "identified_by", "supervisor", "remarks", "media", "happened_at", "happened_zone", "document",
)  # fmt: skip

# The SQL twin of `in_words`, a blank told as `as_text` does; null stays null.
_IN_WORDS = {
    "text": "case when {0} = '' then 'blank' else {0} end",
    "whole": "cast({0} as varchar)",
    "decimal": "rtrim(rtrim(cast({0} as varchar), '0'), '.')",
    "day": "cast({0} as varchar)",
    "instant": "strftime({0}, '%Y-%m-%d %H:%M UTC')",
    "yesno": "case when {0} then 'yes' when not {0} then 'no' end",
}


def sayings(
    con: Asking,
    kinds: Mapping[str, Kind],
    wanted: Iterable[tuple[str, str, str]],
    whole: bool = False,
) -> dict[tuple[str, str, str], Saying]:
    """What is said, by (kind, identity, content); nothing for what no event or held part of the projection says.

    What the key tells already (its site, its day) is left out, and who wrote it down, unless the whole is asked for.
    """
    asked: dict[str, list[list[str]]] = defaultdict(list)
    for name, identity, content in sorted(set(wanted)):
        asked[name].append([identity, content])
    found = {}
    for name, pairs in asked.items():
        if name not in kinds:
            continue
        kind = kinds[name]
        columns = [c.name for c in kind.columns]
        con.register(
            "wanted_saying", pa.table(dict(zip(("identity", "content"), zip(*pairs, strict=True), strict=True)))
        )
        picked = ", ".join(f's."{c}"' for c in columns)
        rows = con.sql(
            f"select distinct s.identity, s.content, s.key, {picked} from {name}_said s "
            "join wanted_saying w on w.identity = s.identity and w.content = s.content"
        ).fetchall()
        for identity, content, key, *values in rows:
            told = dict(zip(columns, values, strict=True))
            found[name, identity, content] = whole_saying(told) if whole else _saying(kind, key or "", told)
    return found


def whole_saying(values: Mapping[str, Any]) -> Saying:
    """Every filled value."""
    told = [(name, in_words(v)) for name, v in values.items() if v is not None]
    return tuple(sorted(told, key=_first))


def _first(told: tuple[str, str]) -> int:
    return FIRST.index(told[0]) if told[0] in FIRST else len(FIRST)


def _saying(kind: Kind, key: str, values: Mapping[str, Any]) -> Saying:
    told = [(name, in_words(v)) for name, v in values.items() if v is not None and name not in ASIDE]
    rest = [(n, v) for n, v in told if not (n in kind.key or ((n.endswith("_key") or n == "happened") and v in key))]
    return tuple(sorted(rest, key=_first))


def in_words(value: Any) -> str:
    """A value as a person writes it: no trailing zeros, days as 2025-06-30, yes and no."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, Decimal):
        return f"{value.normalize():f}"
    if isinstance(value, dt.datetime):
        return value.isoformat(" ", "minutes") + " UTC"
    return str(value)


def as_text(saying: Saying) -> str:
    """Columns and values on one line, for the lead."""
    return ", ".join(f"{name} {value or 'blank'}" for name, value in saying)


def said_sql(kind: Kind) -> str:
    """SQL that gives of a row of one of the kind's views, called k, what `as_text` gives of its saying: for very many rows at once."""
    told = []
    for c in sorted(kind.columns, key=lambda c: _first((c.name, ""))):
        if c.name in ASIDE or c.name in kind.key:
            continue
        value = _IN_WORDS[c.type].format(f'k."{c.name}"')
        text = f"'{c.name} ' || {value}"
        if c.name.endswith("_key") or c.name == "happened":
            text = f"case when not contains(coalesce(k.key, ''), cast(k.{c.name} as varchar)) then {text} end"
        told.append(text)
    return f"concat_ws(', ', {', '.join(told)})"


def difference(saying: Saying, others: Iterable[Saying]) -> Saying:
    """The part of a saying that any of the others tells otherwise or not at all; "" for what it leaves blank itself."""
    told = [dict(o) for o in others]
    names = [n for n, _ in saying] + sorted({n for o in told for n in o} - {n for n, _ in saying})
    mine = dict(saying)
    return tuple((n, mine.get(n, "")) for n in names if any(o.get(n) != mine.get(n) for o in told))
