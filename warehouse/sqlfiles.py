"""The view files: read, expanded for every kind and reference, in the order of their numbers."""

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:  # see database.py
    from schemas.kinds import Kind

FOLDER = Path(__file__).parent / "sql"

ARCHIVES, ALL = "800", "999"  # views from the first number on shape archives, and are made only when one is

_WORD = re.compile(r"\w+")

# Which references make an event wait, and which only carry a caution. A dive nobody told of is inferred instead.
WAITS = {"site", "plot", "bed"}
NOT_A_RULE = {"visit"}


@dataclass(frozen=True)
class View:
    """One view: its name, its SQL, and whether it is computed once a session instead of at every use.

    light: computed once a session of a small projection as well, once the day is set that is asked about.
    without, none: where that table of rules holds nothing, this stands in for the SQL, which would give nothing; "" for others.
    """

    name: str
    sql: str
    kept: bool
    file: str
    light: bool = False
    without: str = ""
    none: str = ""


@dataclass(frozen=True)
class Reference:
    """A column of one kind that names a thing of another."""

    kind: str
    column: str
    target: str
    join: str


def references(kinds: "Mapping[str, Kind]") -> list[Reference]:
    """Every single-valued reference that the models declare and that standing looks after."""
    found = []
    for kind in kinds.values():
        for c in kind.columns:
            if not c.refers or c.several or c.refers in NOT_A_RULE:
                continue
            target = kinds[c.refers]
            on = f"t.{target.key[-1]} = k.{c.name}"
            if c.refers == "plot":
                on += " and t.site_key = k.site_key"
            found.append(Reference(kind.name, c.name, c.refers, on))
    return found


def events(kinds: "Mapping[str, Kind]") -> list[str]:
    """The kinds of what happened in the sea or was paid for: neither registers nor words about other events."""
    return [k.name for k in kinds.values() if not k.register and k.name not in ("withdrawal", "ruling")]


def read_views(kinds: "Mapping[str, Kind]", before: str = ARCHIVES) -> list[View]:
    """Every view whose file's number is below `before`, in the order it must be made."""
    views: list[View] = []
    for path in sorted(p for p in FOLDER.glob("*.sql") if p.name < before):
        views += _expanded(path, kinds, views)
    return views


def only_for(query: str, views: Sequence[View]) -> list[View]:
    """Those of the views that a query names, with all that these are made from: making the others costs more than one answer."""
    wanted = set(_WORD.findall(query))
    needed: list[View] = []
    for view in reversed(views):  # a view is made from earlier ones only
        if view.name in wanted:
            needed.append(view)
            wanted |= _words(view.sql)
    return needed[::-1]


@lru_cache(maxsize=1024)  # every query of a session asks again which views a view is made from
def _words(sql: str) -> frozenset[str]:
    return frozenset(_WORD.findall(sql))


def _expanded(path: Path, kinds: "Mapping[str, Kind]", before: list[View]) -> Iterator[View]:
    text = path.read_text(encoding="utf-8")
    comments = [line[2:].strip() for line in text.splitlines() if line.startswith("--")]
    sql = "\n".join(line for line in text.splitlines() if not line.startswith("--"))
    name, kept = path.stem.split("_", 1)[1], "kept" in comments
    told = {"file": path.name, "light": "kept where all is small" in comments, **_none_without(comments)}
    if "for each kind" in comments:
        for kind in kinds.values():
            filled = sql.replace("{kind}", kind.name).replace("{day}", "register_day" if kind.register else "happened")
            few = kind.register and "kept for registers" in comments
            yield View(f"{kind.name}_{name}", filled, kept or few, **told)
    elif "for each event" in comments:
        for event in events(kinds):
            yield View(f"{name}_{event}", sql.replace("{kind}", event), kept, **told)
    elif "for all shared kinds" in comments:
        shared = [_of_shared(sql, kind) for kind in kinds.values() if kind.shared]
        yield View(name, "\nunion all\n".join(f"select * from ({one}) told" for one in shared), kept, **told)
    elif "for each reference" in comments:
        for r in references(kinds):
            filled = sql.replace("{kind}", r.kind).replace("{column}", r.column).replace("{target}", r.target)
            filled = filled.replace("{join}", r.join).replace("{effect}", "waits" if r.target in WAITS else "caution")
            meant, called = _by_name(r)
            filled = filled.replace("{meant}", meant).replace("{called}", called)
            yield View(f"{name}_{r.kind}_{r.column}", filled, kept, **told)
    elif "{rules}" in sql:
        rules = [v.name for v in before if v.name.startswith("rule_")]
        union = "\nunion all\n".join(f"select kind, identity, rule, effect, why from {r}" for r in rules)
        yield View(name, sql.replace("{rules}", union), kept, **told)
    else:
        yield View(name, sql, kept, **told)


def _none_without(comments: Sequence[str]) -> dict[str, Any]:
    """What `-- none without TABLE: its columns and their types` tells of a view: the table of rules and the empty answer."""
    for comment in comments:
        if comment.startswith("none without "):
            table, _, columns = comment.removeprefix("none without ").partition(": ")
            cells = (f"cast(null as {kind}) as {name}" for name, kind in (c.split() for c in columns.split(", ")))
            return {"without": table, "none": f"select {', '.join(cells)} where 1 = 0"}
    return {}


def _of_shared(sql: str, kind: "Kind") -> str:
    """The text for one kind: `{apart}` names, each followed by a space, the columns in which rows of one group differ."""
    names = [c.name for c in kind.columns if c.name not in kind.key]
    told = [
        f"case when min(coalesce(cast(k.{n} as varchar), '')) <> max(coalesce(cast(k.{n} as varchar), '')) then '{n} ' else '' end"
        for n in names
    ]
    site = "k.site_key" if any(c.name == "site_key" for c in kind.columns) else "cast(null as varchar)"
    return sql.replace("{kind}", kind.name).replace("{apart}", " || ".join(told)).replace("{site}", site)


def _by_name(r: Reference) -> tuple[str, str]:
    """Words and join that ask whether the one site is meant that is called as the reference says; only sites have names."""
    if r.target != "site":
        return "''", ""
    named = "select lower(trim(name)) as name, min(site_key) as site_key from site_now group by lower(trim(name)) having count(*) = 1"
    return (
        "coalesce(': is ' || m.site_key || ' meant, which has that name?', '')",
        f"\nleft join ({named}) m on m.name = lower(trim(k.{r.column}))",
    )


def text_of(view: str) -> str:
    """The SQL of one view that no kind or rule fills in."""
    [path] = FOLDER.glob(f"[0-9][0-9][0-9]_{view}.sql")
    return path.read_text(encoding="utf-8")


def sentences() -> dict[str, str]:
    """Rule file -> the plain sentence that says what it catches."""
    return {p.stem: p.read_text(encoding="utf-8").splitlines()[0][3:] for p in sorted(FOLDER.glob("*_rule_*.sql"))}
