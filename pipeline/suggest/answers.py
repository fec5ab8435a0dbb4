"""A person's answer, put where its question stands, or refused with the reason: then nothing has changed."""

import re
from copy import deepcopy
from typing import Any

from pipeline.errors import BadUsage
from pipeline.intake.mapping import parse_mapping
from pipeline.suggest.feeding import Kinds, ask_what_else, feed, headings_in, prefix, starve, wide_columns
from pipeline.suggest.fewer import KEEP, shared
from pipeline.suggest.proposal import Proposal
from pipeline.suggest.write import Path, Question, sheet_toml

NONE = "none"
PAIR = re.compile(r"([\w.]+)\s*=\s*(\S.*)")
BETWEEN = re.compile(r"\s*;\s*(?=[\w.]+\s*=)|[\s;]+$")  # a heading may hold a semicolon itself


def put(proposal: Proposal, path: Path, answer: str, kinds: Kinds) -> None:
    """Put an answer into the proposal. BadUsage, in one sentence, when it cannot be taken."""
    made = deepcopy(proposal)
    asked = next((q for q in made.questions if q.path == path), Question(path, "", ""))
    made.questions = [q for q in made.questions if q.path != path]
    _put(made, asked, answer.strip(), kinds)
    why = _complaint(made, kinds)
    if why and why != _complaint(proposal, kinds):
        raise BadUsage(why)
    vars(proposal).update(vars(made))


def _complaint(p: Proposal, kinds: Kinds) -> str:
    """What the reader of all mappings has against it, "" if nothing."""
    try:
        parse_mapping("", sheet_toml(p.tree, {}, []).encode(), kinds)
    except BadUsage as e:
        return str(e).split(": ", 1)[-1]
    return ""


def _put(p: Proposal, asked: Question, answer: str, kinds: Kinds) -> None:
    path = asked.path
    table = path[-2] if len(path) > 1 else path[0]
    if path == ("left",):
        _put_pairs(p, "" if answer == NONE else answer, 0, kinds)
    elif path == ("likely",):
        _put_unlikely(p, answer, kinds)
    elif path == ("blanks",):
        p.tree["blanks"] = _blanks(asked, answer)
    elif table in ("columns", "fixed") and answer not in p.header and _is_pair(p, answer, kinds):
        loose = starve(p, _part(path), path[-1], kinds) if table == "columns" else []
        _put_pairs(p, answer, _part(path), kinds)
        ask_what_else(p, loose)
    elif table == "columns":
        _put_heading(p, asked, answer, kinds)
    else:
        _put_value(p, path, _value(p, asked, answer, kinds))


def _part(path: Path) -> int:
    return int(path[1]) if path[0] == "part" else 0


def _put_heading(p: Proposal, asked: Question, answer: str, kinds: Kinds) -> None:
    n, ours = _part(asked.path), asked.path[-1]
    if answer in ("", NONE) and answer not in (h for h in p.header if h):
        ask_what_else(p, starve(p, n, ours, kinds))
    elif answer != asked.offered:
        feed(p, n, ours, headings_in(p, answer), kinds)


# --- column = heading; column = heading, heading -------------------------------------------------------------


def _is_pair(p: Proposal, answer: str, kinds: Kinds) -> bool:
    found = PAIR.match(answer)
    return bool(found and _parts_with(p, found[1], kinds))


def _put_pairs(p: Proposal, answer: str, at: int, kinds: Kinds) -> None:
    """Several headings for one column, in one pair or in several, belong together: their cells are joined.

    at: the part that was asked about.
    """
    told: dict[tuple[int, str], list[str]] = {}
    for text in filter(None, BETWEEN.split(answer)):
        pair = PAIR.fullmatch(text)
        if not pair:
            raise BadUsage(f"“{text}” is not written as column = heading.")
        parts = _parts_with(p, pair[1], kinds)
        if not parts:
            named = " or ".join(dict.fromkeys(p.kinds))
            raise BadUsage(f"`{pair[1]}` is no column of {named}; `wrackline columns` tells all of them.")
        ours = pair[1].rpartition(".")[2]
        n = min(parts, key=lambda n: (ours not in wide_columns(p.parts()[n])[1], n != at, n))
        told.setdefault((n, ours), []).extend(headings_in(p, pair[2]))
    for (n, ours), headings in told.items():
        feed(p, n, ours, list(dict.fromkeys(headings)), kinds)


def _parts_with(p: Proposal, name: str, kinds: Kinds) -> list[int]:
    """The parts that have a column of that name, or kind.name."""
    kind, _, ours = name.rpartition(".")
    return [
        n for n, part in enumerate(p.parts())
        if kind in ("", part["kind"]) and ours in {c.name for c in kinds[part["kind"]].columns}
    ]  # fmt: skip


def _put_unlikely(p: Proposal, answer: str, kinds: Kinds) -> None:
    """Take out what a person says is wrong: headings with “;” between."""
    for heading in [] if answer in (KEEP, NONE, "") else map(str.strip, answer.split(";")):
        fed = [(n, c) for n, part in enumerate(p.parts()) for c, h in part["columns"].items() if h == heading]
        if not fed:
            mapped = dict.fromkeys(h for part in p.parts() for h in part["columns"].values() if isinstance(h, str))
            raise BadUsage(f"“{heading}” is none of them; write those that are wrong of: {'; '.join(mapped)}.")
        for n, ours in fed:
            if p.parts()[n]["columns"].get(ours) == heading:  # another part of its kind may have taken it out already
                ask_what_else(p, starve(p, n, ours, kinds))


# --- values -------------------------------------------------------------------------------------------------


def _blanks(asked: Question, answer: str) -> list[str]:
    """Words that mean that nothing was written. Those that were not met are no slip: other files may hold them."""
    met = [w.strip() for w in asked.offered.split(",") if w.strip()]
    said = [w.strip() for w in answer.split(",") if w.strip()]
    if answer.casefold() in ("yes", "no", NONE) and answer not in met:
        return met if answer.casefold() == "yes" else []
    return said


def _value(p: Proposal, asked: Question, answer: str, kinds: Kinds) -> str | float:
    """The answer as it is written into the TOML; "" takes the line out."""
    path = asked.path
    table = next((t for t in ("fixed", "units", "codes") if t in path[-3:-1]), "")
    column = None
    if table == "fixed":
        kind = kinds[p.parts()[_part(path)]["kind"]]
        column = kind.column(path[-1])
    if answer in ("", NONE) and table and not (column and column.required) and NONE not in asked.choices:
        return ""
    if asked.choices:
        same = [c for c in asked.choices if c.casefold() == answer.casefold()]
        if not same:
            raise BadUsage(f"“{answer}” is none of these: {' / '.join(asked.choices)}.")
        return same[0]
    if column and column.type in ("whole", "decimal"):
        number = re.fullmatch(r"\d+([.,]\d+)?", answer)
        if not number or (column.type == "whole" and number[1]):
            unit = f" of {column.unit}" if column.unit else ""
            raise BadUsage(
                f"“{answer}” is no {'whole ' * (column.type == 'whole')}number{unit}, such as {column.example}."
            )
        return float(answer.replace(",", ".")) if number[1] else int(answer)
    if not answer:
        raise BadUsage("An answer is wanted, or ? to leave it open.")
    return answer


def _put_value(p: Proposal, path: Path, value: Any) -> None:
    shared(p, path, value)
    part, here = p.parts()[_part(path)], prefix(p, _part(path))
    node = p.tree if len(path) == 1 else part
    for step in path[len(here) : -1]:
        node = node.setdefault(step, {})
    before = node.get(path[-1])
    if value == "":
        node.pop(path[-1], None)
    else:
        node[path[-1]] = value
    if path == ("decimal",) and p.tree.get("thousands") == value:  # it was told from the other mark
        del p.tree["thousands"]
    if path[-2:] == ("wide", "cell") and before != value:  # the unit of cover is none of counts
        part.get("units", {}).pop(before, None)
        p.questions = [q for q in p.questions if q.path != (*here, "units", before)]
