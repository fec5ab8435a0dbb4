"""What rows of a drop say otherwise for having been read again: the values that were, and those that are. Asked of the projection."""

from collections.abc import Mapping as MappingLike
from collections.abc import Sequence
from pathlib import Path

from pipeline.differing import Difference, Row, headed, told_of, wanted_by
from pipeline.giving_back import how_read
from pipeline.intake.ways import Mapping
from pipeline.ledger.entry import Entry
from pipeline.says import sayings
from schemas.kinds import Kind
from warehouse.asking import Asking

MOST = 5_000  # rows of a receipt of which it is told

# Of each part that its drop, read again, amends: what that drop said last before.
_BEFORE = """
with again as (
    select p.sheet, p.row, p.part, p.kind, p.partner, p.identity, p.content, e.drop
    from part p join entry e on e.number = p.entry
    where p.entry = $receipt and p.fate = 'amends'
    order by p.sheet, p.row, p.part limit $most
), before as (
    select a.*, p.content as old, row_number() over (partition by a.sheet, a.row, a.part order by p.entry desc, p.row, p.part) as nth
    from again a
    join part p on p.identity = a.identity and p.partner = a.partner and p.entry < $receipt and p.fate in ('entered', 'amends', 'repeated')
    join entry e on e.number = p.entry and e.drop = a.drop
)
select sheet, row, part, kind, partner, identity, content, old, partner, '', '', 0, false, false
from before where nth = 1 order by sheet, row, part
"""


def changed_by_reading(
    con: Asking, entry: Entry, drop: Path, mapping: Mapping, kinds: MappingLike[str, Kind]
) -> Sequence[Difference]:
    """Of each row that an entry amends by reading its drop again: the columns that changed, under the partner's own headings, with what
    they said before. con: as of that entry. drop: its kept bytes; mapping: the one it was read by now."""
    rows: list[Row] = con.execute(_BEFORE, {"receipt": entry.number, "most": MOST}).fetchall()
    told = told_of(entry.name, rows, sayings(con, kinds, wanted_by(rows), whole=True), kinds)
    named = {d.sheet for d in told}
    ways = {s.name: how_read(entry, s, drop, mapping, kinds) for s in entry.sheets if s.name in named}
    return headed(told, {name: match for name, match in ways.items() if match})
