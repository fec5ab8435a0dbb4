"""Wide sheets of loggers (a column for each quantity or logger) and of things numbered in their headings (“Bag 1, State 1”)."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import replace

from pipeline.suggest.fit import Said, headings_say
from pipeline.suggest.lexicon import Lexicon
from pipeline.suggest.seen import Seen
from pipeline.suggest.shapes import WideSeen, one_of, word_codes
from pipeline.suggest.text import bracketed, plain
from schemas.kinds import all_kinds

NUMBERED = re.compile(r"(.*?\D)[ _.#-]*(\d{1,3})(\D*)")
KNOWN_HERE = 0.45  # of a heading, where the other columns of its group have said what they are
BESIDE_READINGS = 8  # a logger's sheet has little else: logger, site, day and time, depth, a battery, a flag
NO_READING = {
    "quantity",
    "unit_key",
    "frame_key",
    "batch_key",
    "step",
}  # a column of these, and it is no logger's sheet
ON_A_DIVE = {"site_key", "plot_key", "team", "bottom_time_min", "visibility_m", "max_depth_m", "outcome", "supervisor", "surge", "current", "weather", "dive_number", "visit_key", "recorded_by"}  # fmt: skip
CODE = re.compile(r"[A-Za-z]{1,8}[-_ .]?\d{1,8}|\d{6,10}")


def readings_seen(columns: Sequence[Seen], said: Sequence[Mapping[str, Said]], words: Lexicon) -> WideSeen | None:
    """A logger's sheet: instants, and a column for each quantity or each logger."""
    instants = any(c.dated > 0.7 and c.day_alone < 0.5 for c in columns)
    clocked = any(c.dated > 0.7 for c in columns) and any(
        c.clocked > 0.8 or (c.clocked_by_dots > 0.9 and says.get("clock", Said()).surely >= 0.9)
        for c, says in zip(columns, said, strict=True)
    )
    if not instants and not clocked:
        return None
    elsewhere = NO_READING if instants else NO_READING | ON_A_DIVE
    telling = [s for c, s in zip(columns, said, strict=True) if not c.running and 2 * c.filled > c.rows]
    if any(says.get(c, Said()).surely >= 0.95 for says in telling for c in elsewhere):
        return None
    known = words.values["quantity"]
    numbers = [c for c in columns if c.numeric > 0.8]
    told = {c.at: next((w for w in c.bare.split() if w in known), "") for c in numbers}
    measures = [c for c in numbers if told[c.at]]
    loggers = [c for c in numbers if CODE.fullmatch(c.heading)]
    if len(loggers) > 1:
        table = {"headings": [c.heading for c in loggers], "heading": "logger_key", "cell": "value"}
        return WideSeen(
            "reading",
            tuple(c.at for c in loggers),
            ("logger_key",),
            "value",
            table,
            f"{len(loggers)} columns are headed by loggers",
        )
    if not measures or sum(not c.running for c in columns) > len(measures) + BESIDE_READINGS:
        return None
    units = [bracketed(c.heading) for c in measures]
    if all(u for _, u in units):
        pattern = rf"(?P<quantity>{one_of([b for b, _ in units])})\s*[(\[](?P<unit>.+)[)\]]"
        filled: tuple[str, ...] = ("quantity", "unit")
    else:
        pattern, filled = rf"(?P<quantity>{one_of([c.heading for c in measures])})", ("quantity",)
    names = [b if len(filled) > 1 else c.heading for c, (b, _) in zip(measures, units, strict=True)]
    codes: dict[str, dict[str, str]] = {
        "quantity": {n: known[told[c.at]] for n, c in zip(names, measures, strict=True)}
    }
    if len(filled) > 1:
        codes["unit"] = {u: c.unit for c, (_, u) in zip(measures, units, strict=True) if c.unit and c.unit != u}
    return WideSeen("reading", tuple(c.at for c in measures), filled, "value", {"pattern": pattern, "cell": "value"},
                    f"{len(measures)} columns are headed by what is measured", {k: v for k, v in codes.items() if v})  # fmt: skip


def numbered_seen(columns: Sequence[Seen], words: Lexicon) -> WideSeen | None:
    """“Bag 1, State 1, Bag 2, State 2”: columns of one thing, told together by a number."""
    groups: dict[str, dict[str, Seen]] = {}
    for column in columns:
        found = NUMBERED.fullmatch(bracketed(column.heading)[0])
        if found:
            groups.setdefault((found[1] + "#" + found[3]).strip(), {})[found[2]] = column
    several = {base: g for base, g in groups.items() if len(g) >= 2}
    if len(several) < 2 or len({frozenset(g) for g in several.values()}) != 1:
        return None
    cells, at = {}, dict[int, str]()
    for base, group in several.items():
        ours = _column_of(base.replace("#", " "), next(iter(group.values())), words)
        if ours:
            cells[base.split("#")[0].strip()] = ours
            at |= {c.at: ours for c in group.values()}
    kind = "check" if {"unit_key", "state"} <= set(cells.values()) else ""
    if not kind:
        return None
    before = "|".join(re.escape(b) for b in cells)
    table = {"pattern": rf"(?P<cell>{before})\D*?(?P<group>\d+)\b.*", "cells": cells}
    places = tuple(sorted(at))
    return WideSeen(
        kind,
        places,
        (),
        "state",
        table,
        f"{len(places)} columns repeat {', '.join(f'“{b}”' for b in cells)} by number",
        codes=word_codes([c for g in several.values() for c in g.values() if at.get(c.at) == "state"], words),
        cells=at,
    )


def _column_of(base: str, column: Seen, words: Lexicon) -> str:
    """What a numbered heading says without its number, of the columns a check has; "" when it says none of them."""
    bare = replace(column, heading=base, words=plain(base), bare=plain(base))
    [says] = headings_say([bare], words)
    ours = {c.name for c in all_kinds()["check"].columns} - {"site_key", "visit_key", "dive_number", "happened"}
    fitting = {c: s.surely for c, s in says.items() if c in ours}
    return max(fitting, key=lambda c: fitting[c]) if max(fitting.values(), default=0) > KNOWN_HERE else ""
