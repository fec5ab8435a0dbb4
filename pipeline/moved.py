"""Which figures moved since an earlier entry of the ledger, and which rows made them: asked of the projection.

A figure moved when its number, its interval or its bounds did; what is only remarked about it may change beside.
"""

import re
from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from contextlib import AbstractContextManager
from dataclasses import dataclass, field, replace
from typing import Any

import duckdb

from pipeline.groups import group_of
from pipeline.indicators.estimate import Estimate
from pipeline.indicators.figure import SCOPE, Figure
from pipeline.programme import Rules

OTHER_ROWS = "other rows count than before: a decision, or a row that was taken back"
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
    def explained(
    changed: Sequence[tuple[Figure, Estimate]],
    now: Since,
    at_base: Callable[[], AbstractContextManager[tuple[duckdb.DuckDBPyConnection, Rules]]],
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
                gone = before.all_behind(m.figure) != now.all_behind(m.figure)
                made[m.figure.id] = replace(m, why=OTHER_ROWS if gone else otherwise)
    return list(made.values())
