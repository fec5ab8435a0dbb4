"""A suggested mapping as TOML, each line with what speaks for it and each question where its answer belongs."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

Path = tuple[str, ...]


@dataclass(frozen=True)
class Question:
    """What a person must say: where its answer stands in the tree, what is offered, and what else may be answered."""

    path: Path
    ask: str
    offered: str
    choices: tuple[str, ...] = ()


def toml_text(value: object) -> str:
    """A value as TOML."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int | float):
        return str(value)
    if isinstance(value, Mapping):
        return "{ " + ", ".join(f"{key(k)} = {toml_text(v)}" for k, v in value.items()) + " }"
    if isinstance(value, Sequence) and not isinstance(value, str):
        return "[" + ", ".join(toml_text(v) for v in value) + "]"
    text = str(value)
    if "\\" in text and "'" not in text and text.isprintable():
        return f"'{text}'"
    escaped = text.replace("\\", "\\\\").replace('"', '\\"')
    return '"' + re.sub(r"[\x00-\x1f\x7f]", lambda m: f"\\u{ord(m[0]):04x}", escaped) + '"'


def key(name: str) -> str:
    """A TOML key, quoted where it must be."""
    return name if re.fullmatch(r"[A-Za-z0-9_-]+", name) else toml_text(name)


def sheet_toml(tree: Mapping[str, object], notes: Mapping[Path, str], questions: Sequence[Question]) -> str:
    """One [[sheet]]. tree: keys and tables, a list of tables under `part`. notes: what speaks for a line, by its path."""
    asked: dict[Path, list[str]] = {}
    for q in questions:
        asked.setdefault(q.path, []).append(q.ask + (f" ({' / '.join(q.choices)})" if q.choices else ""))
    beside = [
        f"# ASK: {_one_line(a + _where(path, tree))}"
        for path, asks in asked.items()
        if not _stands(tree, path)
        for a in asks
    ]
    return "\n".join([*beside, "[[sheet]]", *_table(tree, "sheet", (), notes, asked)]) + "\n"


def _stands(tree: object, path: Path) -> bool:
    """Whether the tree has a line at this path, which its question can stand above."""
    for step in path:
        if isinstance(tree, list):
            tree = tree[int(step)]
        elif isinstance(tree, Mapping) and step in tree:
            tree = tree[step]
        else:
            return False
    return True


def _where(path: Path, tree: Mapping[str, object]) -> str:
    """Where an answer is to be written that has no line yet; "" for questions about the sheet as a whole."""
    if path[0] == "likely":
        return ""
    if path[0] == "left":
        parts = tree.get("part", [tree])
        wide = any("wide" in p for p in parts) if isinstance(parts, list) else False
        table = "sheet.part" if "part" in tree else "sheet"
        more = " A further wide column is taken out of `but_not`, or put into `headings`, instead." if wide else ""
        return f' Here that is under [{table}.columns], as column = "heading" or a list of headings.{more}'
    part = f" of part {int(path[1]) + 1}" if path[0] == "part" else ""
    tables = ["sheet", *(["part"] if part else []), *path[2 if part else 0 : -1]]
    return f" Write it under [{'.'.join(map(key, tables))}]{part}, as {key(path[-1])} = ..."


def _table(
    table: Mapping[str, object], name: str, path: Path, notes: Mapping[Path, str], asked: Mapping[Path, list[str]]
) -> list[str]:
    lines, below = [], list[str]()
    for k, value in table.items():
        here = (*path, k)
        ask = [f"# ASK: {_one_line(a)}" for a in asked.get(here, [])]
        if isinstance(value, Mapping) and k not in ("only_if", "cells"):
            if value or ask:
                head = f"[{name}.{key(k)}]"
                below += [*ask, *([head] if any(not isinstance(v, Mapping) for v in value.values()) else [])]
                below += _table(value, f"{name}.{key(k)}", here, notes, asked)
        elif k == "part" and isinstance(value, list):
            for n, part in enumerate(value):
                below += ["", f"[[{name}.part]]", *_table(part, f"{name}.part", (*here, str(n)), notes, asked)]
        else:
            note = f"   # {_one_line(notes[here])}" if here in notes else ""
            lines += [*ask, f"{key(k)} = {toml_text(value)}{note}"]
    return lines + below


def _one_line(text: str) -> str:
    """A comment ends with its line, whatever a cell may hold."""
    return re.sub(r"\s+", " ", "".join(c if c.isprintable() else " " for c in text))
