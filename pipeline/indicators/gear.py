"""Gear that has not come home: what is not brought home is litter, and usually breaks a condition of a permit."""

from collections.abc import Iterable, Mapping, Sequence
from decimal import Decimal
from typing import NamedTuple

from pipeline.indicators.estimate import Estimate, not_estimable
from pipeline.indicators.figure import Figure, Scope, scope

OUT, KG = "gear not accounted for", "gear not accounted for, known kg"
IN_PLACE, DUE = "gear in place when last seen", "gear due for retrieval"
PIECES, COUNT = "pieces", "count"
LITTER = "what stays is litter, whatever it was for; whether and by when it must come home, local permits rule"


class Gear(NamedTuple):
    """Gear of one site, method and material, in pieces; due: the day is past by which it was to be brought home.

    retrieved: brought home; recovered: found after it was lost, and brought home; in_place: neither, and there when last
    looked at. out_kg: known mass of what came home in no way, out_unweighed its pieces without a mass; in_part: pieces
    brought home in part; uncounted: lots of which something came home that nobody counted; out_undated: pieces not home
    for which no day was set.
    """

    site: str
    method: str
    material: str
    due: bool
    pieces: int
    retrieved: int
    recovered: int
    in_place: int
    out_kg: Decimal
    out_unweighed: int
    in_part: int
    uncounted: int
    out_undated: int

    @property
    def out(self) -> int:
        """Pieces that came home in no way."""
        return self.pieces - self.retrieved - self.recovered


Cautions = Mapping[tuple[str, str], Sequence[tuple[str, int]]]  # by (site, method): what is left out, how often


def gear(rows: Iterable[Gear], around: Cautions, unnamed: int) -> list[Figure]:
    """By site and method, by method, by material, and of the whole programme. unnamed: finds that nobody could name."""
    groups: dict[Scope, list[Gear]] = {}
    for row in rows:
        for what in (
            scope(site=row.site, method=row.method), scope(site="all", method=row.method),
            scope(site="all", material=row.material), scope(site="all"),
        ):  # fmt: skip
            groups.setdefault(what, []).append(row)
    figures = []
    for what, told in sorted(groups.items()):
        beside = _cautions(told, around, unnamed if dict(what)["site"] == "all" else 0)
        figures += [
            Figure(name, what, estimate.with_cautions(*beside))
            for name, estimate in (
                (OUT, not_accounted_for(told)), (KG, known_mass(told)), (IN_PLACE, in_place(told)), (DUE, due(told)),
            )
        ]  # fmt: skip
    return figures


def not_accounted_for(rows: Sequence[Gear]) -> Estimate:
    """Pieces put down less those brought home and those found after they were lost; n: pieces put down."""
    put, home, found, there = (
        sum(x) for x in zip(*((g.pieces, g.retrieved, g.recovered, g.in_place) for g in rows), strict=True)
    )
    note = (
        f"{put} put down, {home} brought home, {found} found after they were lost and brought home; of the rest {there} were in "
        f"place when last seen; {LITTER}"
    )
    return Estimate("estimated", PIECES, put, PIECES, COUNT, value=float(put - home - found), note=note)


def known_mass(rows: Sequence[Gear]) -> Estimate:
    """The mass of the pieces not accounted for, in kg, where it was told. not estimable: where none was told."""
    out, unweighed = sum(g.out for g in rows), sum(g.out_unweighed for g in rows)
    if out and out == unweighed:
        return not_estimable(f"no mass was told of these {out} pieces", unit="kg", n=out, n_of=PIECES)
    note = f"of {out - unweighed} pieces not accounted for; a lot's mass is parted by its pieces"
    if unweighed:
        note = f"at least: the mass of {unweighed} more is not told; {note}"
    mass = sum((g.out_kg for g in rows), Decimal(0))
    return Estimate("estimated", "kg", out - unweighed, PIECES, "sum of known masses", value=float(mass), note=note)


def in_place(rows: Sequence[Gear]) -> Estimate:
    """Pieces that came home in no way and were in place when last looked at; n: pieces put down."""
    there, put = sum(g.in_place for g in rows), sum(g.pieces for g in rows)
    note = "as of the last look at each, which may be long ago; of lots, the pieces counted then"
    return Estimate("estimated", PIECES, put, PIECES, COUNT, value=float(there), note=note)


def due(rows: Sequence[Gear]) -> Estimate:
    """Pieces that came home in no way though the day set for it is past; n: pieces not home with a day set.

    not estimable: where no day was set for any piece.
    """
    out, undated = sum(g.out for g in rows), sum(g.out_undated for g in rows)
    if out and out == undated:
        return not_estimable("no day was set by which these pieces are to come home", unit=PIECES, n=0, n_of=PIECES)
    late = [g for g in rows if g.due]
    note = f"{sum(g.in_place for g in late)} of them were in place when last seen; due when conditions and your supervisor allow"
    if undated:
        note += f"; no day was set for {undated} more"
    value = float(sum(g.out for g in late))
    return Estimate("estimated", PIECES, out - undated, PIECES, COUNT, value=value, note=note)


def _cautions(rows: Sequence[Gear], around: Cautions, unnamed: int) -> list[str]:
    times: dict[str, int] = {}
    for place in sorted({(g.site, g.method) for g in rows}):
        for what, n in around.get(place, ()):
            times[what] = times.get(what, 0) + n
    in_part, uncounted = sum(g.in_part for g in rows), sum(g.uncounted for g in rows)
    return [
        *(f"{what}: {n}" for what, n in sorted(times.items())),
        *([f"pieces brought home in part, counted as home: {in_part}"] if in_part else []),
        *([f"lots of which something came home that nobody counted, still in full here: {uncounted}"] if uncounted else []),
        *([f"finds brought home that nobody could name, of this gear or not: {unnamed}"] if unnamed else []),
    ]  # fmt: skip
