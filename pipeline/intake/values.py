"""What is read of a part's cells before the cast: positions and names of species. What cannot be read becomes a fault with the reason."""

from collections.abc import Mapping
from dataclasses import replace
from decimal import Decimal

import pyarrow as pa
import pyarrow.compute as pc

from pipeline.faults import Fault
from pipeline.intake.angles import LAT, LIMIT, LON, SWAPPED, Unread
from pipeline.intake.names import Names
from pipeline.intake.positions import RADIUS, UNREAD, Positions
from pipeline.intake.reshape import Shape
from pipeline.intake.species import Species
from pipeline.intake.ways import SheetMap
from schemas.kinds import Kind

Cells = set[tuple[int, str]]  # line and our column


class Values:
    """Reads the positions and species of one part. `shape`: as the cast is to read it afterwards."""

    def __init__(self, shape: Shape, kind: Kind, sheet: SheetMap, native: bool, names: Names) -> None:
        self.kind = kind
        self.positions = Positions(
            shape, kind, "." if native else sheet.decimal, "" if native else sheet.thousands, sheet.blanks
        )
        self.species = Species(self.positions.shape, kind, names, sheet.blanks)
        self.shape = self.species.shape

    def __call__(self, cells: pa.Table) -> pa.Table:
        """Lines of `cells`, read; texts that cannot be read are marked."""
        return self.species(self.positions(cells))

    def faults(self, typed: pa.Table, sheet: str) -> tuple[list[Fault], Cells]:
        """A fault for every text that was left unread, of a pair in one cell once, and all cells that are meant."""
        why: Mapping[tuple[str, str], Unread] = {**self.positions.why, **self.species.why}
        made, cells = [], Cells()
        for column in dict.fromkeys(c for c, _ in why):
            raw = typed.column(f"raw.{column}").cast(pa.string())
            unread = pc.fill_null(pc.starts_with(raw, UNREAD), False)
            if not pc.any(unread).as_py():
                continue
            some = typed.select(["row", f"raw.{column}"]).filter(unread)
            for line, text in zip(*(c.to_pylist() for c in some.columns), strict=True):
                found, twin = text.removeprefix(UNREAD), self.positions.pair and column == LON
                cells |= {(line, column)} | (
                    {(line, RADIUS)} if column == LAT and self.shape.part.position.uncertainty else set()
                )
                if not (twin and (line, LAT) in cells):
                    told, heading = why[column, found], self.shape.part.headings.get(column, "")
                    made.append(Fault(sheet, line, self.shape.first, self.kind.name, column, heading, "not read", found,
                                      told.wanted, told.advice))  # fmt: skip
        return made, cells

    def explained(self, faults: list[Fault]) -> list[Fault]:
        """The other faults of those lines: a plain latitude beyond the pole that would do as a longitude is told of as one."""
        return [
            replace(f, wanted=SWAPPED.wanted, advice=SWAPPED.advice)
            if f.column == LAT and _surely_longitude(f.found)
            else f
            for f in faults
        ]


def _surely_longitude(found: str) -> bool:
    try:
        return LIMIT[LAT] < abs(Decimal(found.replace(",", "."))) <= LIMIT[LON]
    except ArithmeticError:
        return False
