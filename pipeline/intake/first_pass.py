"""A first pass over a sheet whose mapping does not say in which order its days are written: all of its cells tell.

It is made when the first day is met that needs it, so files in ISO days are read once.
"""

from collections.abc import Callable, Mapping, Sequence
from functools import cached_property
from itertools import product
from pathlib import Path
from tempfile import TemporaryDirectory

from pipeline.engine import connection
from pipeline.intake.cast import cast_sql
from pipeline.intake.match import Match
from pipeline.intake.orders import Order, order_of
from pipeline.intake.plain import distinct_days
from pipeline.intake.read import rows, trimmed
from pipeline.intake.reshape import FillDown, Shape, lines_of, rows_at_once
from pipeline.intake.sheet import Sheet, Tally
from schemas.kinds import Kind


class Orders:
    """The order of days of every column that a sheet's parts read. zone: the programme's."""

    def __init__(
        self, sheet: Sheet, match: Match, shapes: Sequence[Shape], kinds: Mapping[str, Kind], zone: str, scratch: Path
    ) -> None:
        self.sheet, self.match, self.shapes, self.kinds = sheet, match, shapes, kinds
        self.zone, self.scratch = zone, scratch

    def of(self, shape: Shape) -> Callable[[str], Order]:
        """Our column -> the order of its days in that part of the rows."""
        return lambda column: self._settled.get((shape.first, column), Order("", ()))

    @cached_property
    def _settled(self) -> dict[tuple[int, str], Order]:
        return {place: order_of(days) for place, days in self._days().items()}

    def _days(self) -> dict[tuple[int, str], set[str]]:
        match, sheet, found = self.match, self.sheet, dict[tuple[int, str], set[str]]()
        fill_down, place = FillDown(match.sheet, match.header), match.sheet.timezone or self.zone
        with (
            TemporaryDirectory(dir=self.scratch) as scratch,
            connection() as con,
        ):
            tables = rows(
                sheet,
                match.header_row,
                len(match.header),
                Tally(),
                Path(scratch),
                match.sheet.stated,
                match.sheet.decimal,
                match.merged,
            )
            for table in tables:
                filled, few = fill_down(con, trimmed(table)), rows_at_once(self.shapes)
                for start, shape in product(range(0, table.num_rows, few), self.shapes):
                    kind = self.kinds[shape.part.kind]
                    con.register("cells", lines_of(con, filled.slice(start, few), shape, match.sheet.blanks))
                    sql = cast_sql(kind, match.sheet, shape.part, shape.header, sheet.native, self.zone)
                    typed = con.sql(sql).to_arrow_table()
                    for column, days in distinct_days(typed, kind, place).items():
                        found.setdefault((shape.first, column), set()).update(days)
        return found
