"""What a judgement makes of each drop as a whole: asked once for all drops of a take-in."""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import duckdb


@dataclass(frozen=True)
class Outcome:
    """What is to be told of each drop of a take-in, by its position; one that is not named is told as it was staged.

    otherwise: with parts judged otherwise than entered. asked: that lack rows of an earlier file. against: the other
    drops of this take-in that contradict it.
    """

    otherwise: frozenset[int]
    asked: frozenset[int]
    against: Mapping[int, Sequence[int]]


def outcome(con: duckdb.DuckDBPyConnection) -> Outcome:
    """Ask once for all drops: a question for each of thousands would take longer than judging them."""

    def positions(query: str) -> frozenset[int]:
        return frozenset(pos for (pos,) in con.execute(query).fetchall())

    against = defaultdict(list)
    for pos, other in con.execute(
        "select distinct j.pos, o.pos from judged j join judged o on o.identity = j.identity and o.content <> j.content "
        "where o.pos <> j.pos and j.fate = 'conflict' and o.fate = 'conflict' order by all"
    ).fetchall():
        against[pos].append(other)
    return Outcome(
        positions("select distinct pos from judged where fate <> 'entered'"),
        positions("select distinct pos from vanished"),
        against,
    )
