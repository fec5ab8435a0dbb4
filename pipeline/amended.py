"""What the rows of a file that would amend too much say otherwise than what counts. Asked of the projection."""

from collections.abc import Mapping
from dataclasses import dataclass

import duckdb

from pipeline.says import sayings
from schemas.kinds import Kind

FEW = 5  # rows of which it is told; the rest are counted


@dataclass(frozen=True)
class Change:
    """One held row that would amend: its place, and of each column that differs its title, what counts, what is new."""

    sheet: str
    row: int
    part: int
    values: tuple[tuple[str, str, str], ...]


def changes(con: duckdb.DuckDBPyConnection, kinds: Mapping[str, Kind], receipt: int) -> list[Change]:
    """The first rows of a receipt that were held because the file would amend much, in order.

    con: a session with the views up to `settled`, as of that receipt. Of a row whose partner did not itself tell what
    counts now nothing is given: another's values are not for its letter.
    """
    rows = con.sql(
        """with first as (
               select p.identity, min(p.content) as content
               from part p cross join as_of a where p.fate = 'entered' and p.entry <= a.entry group by p.identity
           ), asked as (
               select p.sheet, p.row, p.part, p.kind, p.partner, p.identity, p.content,
                   coalesce(s.content, b.content) as counting
               from fault f
               join part p on p.entry = f.entry and p.sheet = f.sheet and p.row = f.row and p.part = f.part
               left join settled s on s.identity = p.identity
               left join first b on b.identity = p.identity
               where f.entry = $receipt and f.code = 'amends much'
           )
           select k.sheet, k.row, k.part, k.kind, k.identity, k.content, k.counting
           from asked k
           where k.partner = 'programme' or exists (
               select 1 from part o where o.identity = k.identity and o.content = k.counting and o.partner = k.partner
                   and o.fate <> 'faulty' and o.entry < $receipt)
           order by k.sheet, k.row, k.part limit $few""",
        params={"receipt": receipt, "few": FEW},
    ).fetchall()
    said = sayings(con, kinds, ((kind, identity, c) for *_, kind, identity, new, old in rows for c in (new, old)))
    found = []
    for sheet, row, part, kind, identity, new, old in rows:
        now, then = dict(said.get((kind, identity, old), ())), dict(said.get((kind, identity, new), ()))
        titles = {c.name: c.title for c in kinds[kind].columns}
        names = [*now, *(n for n in then if n not in now)]
        differ = [(titles[n], now.get(n, "blank"), then.get(n, "blank")) for n in names if now.get(n) != then.get(n)]
        found.append(Change(sheet, row, part, tuple(differ)))
    return found
