"""Which figures moved since an earlier entry of the ledger, and which rows made them: asked of the projection.

A figure moved when its number, its interval or its bounds did; what is only remarked about it may change beside.
"""

import re
from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from contextlib import AbstractContextManager
from dataclasses import dataclass, field, replace
from typing import Any

from pipeline.groups import group_of
from pipeline.indicators.estimate import Estimate
from pipeline.indicators.figure import SCOPE, Figure
from pipeline.lineage import REGISTERS
from pipeline.programme import Rules
from warehouse.asking import Asking

OTHER_ROWS = "other rows counting than before: a decision, or a row that was taken back"
LOOKED_INTO = 500  # moved figures of a night whose rows are looked for; of more, the rest are counted


@dataclass(frozen=True)
class News:
    """One row that the ledger got since: who handed it in, where it stands, what it speaks of, what became of it."""

    partner: str
    file: str
    row: int
    kind: str
    key: str
    fate: str
    entry: int


@dataclass(frozen=True)
class Moved:
    """A figure that moved: as it is, as it was, the new rows behind it, and in words what else explains it.

    why: "" where the rows do; looked_into is False where nobody looked for them (see LOOKED_INTO).
    """

    figure: Figure
    before: Estimate
    rows: tuple[News, ...] = ()
    why: str = ""
    looked_into: bool = True

    @property
    def explained(self) -> bool:
        """Whether anything was found that explains it."""
        return bool(self.rows or self.why) or not self.looked_into


def numbers(e: Estimate) -> tuple[object, ...]:
    """What of an estimate is a number, or the refusal of one."""
    return e.state, e.value, e.low, e.high, e.value_from, e.value_to


def moved(before: Mapping[str, Figure], now: Iterable[Figure]) -> list[tuple[Figure, Estimate]]:
    """Figures of now whose numbers were others before, in the order of now."""
    return [
        (f, before[f.id].estimate)
        for f in now
        if f.id in before and numbers(before[f.id].estimate) != numbers(f.estimate)
    ]


@dataclass
class Since:
    """Rows that the ledger got after the entry `base`, as a session sees them, and which of them a figure rests on."""

    con: Asking
    base: int
    told: dict[str, list[News]] = field(default_factory=dict)
    places: dict[tuple[Any, ...], News] = field(default_factory=dict)
    seen: dict[tuple[Any, ...], frozenset[Any]] = field(default_factory=dict)
    _views: set[str] = field(default_factory=set)

    def __post_init__(self) -> None:
        """Look once for all that is new."""
        found = self.con.execute(
            """select p.identity, p.partner, e.name, p.row, coalesce(p.kind, ''), coalesce(p.key, ''), p.fate, p.entry, p.sheet, p.part
               from part p join entry e on e.number = p.entry cross join as_of a
               where p.entry > $base and p.entry <= a.entry order by p.entry, p.sheet, p.row, p.part""",
            {"base": self.base},
        ).fetchall()
        by_identity = defaultdict(list)
        for identity, partner, name, row, kind, key, fate, entry, sheet, part in found:
            news = News(partner, name, row, kind, key, fate, entry)
            self.places[entry, sheet, row, part] = news
            if identity is not None and fate != "faulty":
                by_identity[identity].append(news)
        self.told = dict(by_identity)
        self._views = {
            v for (v,) in self.con.execute("select view_name from duckdb_views() where not internal").fetchall()
        }
        self.con.execute("create or replace temp table news (identity varchar)")
        if self.told:
            self.con.execute("insert into news select unnest($all)", {"all": sorted(self.told)})

    @property
    def registers(self) -> tuple[News, ...]:
        """New rows of registers, on which every figure may rest: a plot's area changes how costs are parted."""
        every = (n for rows in self.told.values() for n in rows)
        return tuple(n for n in every if n.kind in REGISTERS and n.fate != "repeated")

    def behind(self, figure: Figure) -> tuple[News, ...]:
        """New rows that the figure rests on or that are missing from it."""
        given, group = _given(figure), group_of(figure.indicator)
        found: dict[News, None] = {}
        for _, _, query in group.behind(figure):
            for (identity,) in sorted(
                self._ask(f"select identity from ({query}) where identity in (from news)", query, given)
            ):
                found.update(dict.fromkeys(self.told[identity]))
        if missing := group.missing(figure):
            places = self._ask(
                f"select entry, sheet, row, part from ({missing}) where entry > {self.base}", missing, given
            )
            found.update(dict.fromkeys(self.places[p] for p in sorted(places) if p in self.places))
        # what was known already moves nothing, unless it is all there is: that a second partner says it too
        spoke = [n for n in found if n.fate != "repeated"] or found
        return tuple(sorted(spoke, key=lambda n: (n.entry, n.row, n.kind, n.key)))

    def all_behind(self, figure: Figure) -> frozenset[Any]:
        """Everything that the figure rests on or that is missing from it, whenever it was told."""
        given, group = _given(figure), group_of(figure.indicator)
        found = [self._ask(f"select '{role}', identity from ({q})", q, given) for role, _, q in group.behind(figure)]
        if missing := group.missing(figure):
            found.append(self._ask(f"select 'missing', entry, sheet, row, part from ({missing})", missing, given))
        return frozenset[Any]().union(*found)

    def _ask(self, query: str, of: str, given: Mapping[str, str | None]) -> frozenset[Any]:
        """The distinct rows of a query; many figures ask the same. of: the part of it that names parts of the scope."""
        params = {k: v for k, v in given.items() if f"${k}" in of}
        key = (query, *sorted(params.items(), key=str))
        if key not in self.seen:
            self._compute_views_in(query)
            self.seen[key] = frozenset(self.con.execute(query, params).fetchall())
        return self.seen[key]

    def _compute_views_in(self, query: str) -> None:
        """Make tables of the views that a query names: planning them anew for every figure takes most of the time."""
        for view in sorted(self._views & set(re.findall(r"\w+", query))):
            self._views.remove(view)
            self.con.execute(f"create temp table making as from {view}")
            self.con.execute(f"drop view {view}")
            self.con.execute(f"alter table making rename to {view}")


def _given(figure: Figure) -> dict[str, str | None]:
    given: dict[str, str | None] = {name: figure.of(name) or None for name in SCOPE}
    return {**given, "site": None} if given["site"] == "all" else given


def explained(
    changed: Sequence[tuple[Figure, Estimate]],
    now: Since,
    at_base: Callable[[], AbstractContextManager[tuple[Asking, Rules]]],
    otherwise: str,
) -> list[Moved]:
    """Each moved figure with what moved it. otherwise: what else changed and may move any figure, "" for nothing.

    at_base: opens the session as of the base; it is opened only for figures that have no new row behind them.
    """
    made, rest = dict[str, Moved](), []
    for n, (figure, was) in enumerate(changed):
        looked_into = n < LOOKED_INTO
        rows = now.behind(figure) if looked_into else ()
        made[figure.id] = Moved(figure, was, rows, looked_into=looked_into)
        rest += [made[figure.id]] if looked_into and not rows else []
    if rest:
        with at_base() as (con, _):
            before = Since(con, now.base)
            for m in rest:
                if before.all_behind(m.figure) != now.all_behind(m.figure):
                    made[m.figure.id] = replace(m, why=OTHER_ROWS)
                else:
                    made[m.figure.id] = replace(m, rows=now.registers, why="" if now.registers else otherwise)
    return list(made.values())
