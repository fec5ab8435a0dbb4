"""Columns of positions, as anybody writes them -> decimal degrees of EPSG:4326 in the sheet's own decimal mark.

Rows of plain decimal degrees are passed over by a pattern; of the others each distinct text is read once. What cannot be
read stays as it is written, so that the cast refuses it in its owner's words, and the reason is kept for the fault.
"""

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import NamedTuple

import pyarrow as pa
import pyarrow.compute as pc

from pipeline.intake.angles import LAT, LIMIT, LON, NO_POSITION, PLACES, SWAPPED, Angle, Unread, read_angle, read_pair
from pipeline.intake.grids import WGS84, datum_code, is_grid, read_grid, to_wgs84, transformation_m
from pipeline.intake.placing import UTM
from pipeline.intake.radius import EPE_FACTOR, RECEIVERS, cell_m, precision_m
from pipeline.intake.reshape import HIDDEN, Shape, hidden, source, texts_of
from schemas.kinds import Kind

UNREAD = "\0"  # before a text that was left unread: no cell holds it, and no cast takes it for a number
OUTSIDE = "Look whether easting and northing changed places, and whether the grid or datum is the right one."
DATUM, RADIUS = "datum", "uncertainty_m"
HALF = Unread(
    "latitude and longitude together", "Fill in the other one, or leave both blank: a datum or grid needs the two."
)
NO_DATUM = Unread("a datum that is known", "Write its EPSG code, such as EPSG:4326 for WGS 84 or EPSG:4230 for ED50.")


class _Key(NamedTuple):
    """The texts of one row: blank where nothing is written or asked."""

    latitude: str
    longitude: str
    datum: str
    radius: str


@dataclass(frozen=True)
class _Read:
    """A position in its own datum or grid (longitude or easting is x), and the smallest step written, in its own unit."""

    x: Decimal
    y: Decimal
    step: Decimal
    code: str


class Positions:
    """Reads the positions of one part of a sheet.

    shape   the part's shape, in which what was read has columns of its own.
    why     (our column, text) -> why it was left unread.
    """

    def __init__(self, shape: Shape, kind: Kind, mark: str, thousands: str, blanks: Sequence[str]) -> None:
        self.said, self.mark = shape.part.position, mark
        self.plain = re.compile(rf"[+-]?\d{{1,3}}({re.escape(mark)}\d{{0,15}})?")
        self.grouped = re.compile(rf"(?<=\d){re.escape(thousands)}(?=\d{{3}}(?!\d))") if thousands else None
        self.blanks = {"", *(b.casefold() for b in blanks)}
        self.why: dict[tuple[str, str], Unread] = {}
        known = {c.name for c in kind.columns}
        self.sources = {c: source(shape, c) for c in (LAT, LON, DATUM, RADIUS) if c in known}
        self.at: dict[str, str] = {}
        self.shape, self.pair = shape, self._is_pair(shape)
        if not (self.sources.get(LAT) and self.sources.get(LON)):
            return
        wanted = [LAT, LON]
        wanted += [DATUM] if DATUM in known and (self.sources[DATUM] or self.said.crs) else []
        wanted += (
            [RADIUS]
            if RADIUS in known and (self.said.uncertainty or (self.said.estimated_error and self.sources[RADIUS]))
            else []
        )
        for column in wanted:
            self.shape, self.at[column] = hidden(self.shape, column)
        shown = self.shape.shown.get(HIDDEN + LAT, "")
        blank = {HIDDEN + c: shown for c in wanted if not self.sources[c]}
        self.shape = replace(self.shape, shown={**self.shape.shown, **blank})

    def _is_pair(self, shape: Shape) -> bool:
        """Whether one cell, or one text for all rows, holds both."""
        told, joins = self.sources.get(LAT), shape.part.joins
        if LAT in joins or LON in joins:
            return joins.get(LAT) == joins.get(LON)
        plain = told is not None and told[0] == "fixed" and re.fullmatch(r"[+-]?[\d.,]+", told[1]) is not None
        return told == self.sources.get(LON) and not plain

    def __call__(self, cells: pa.Table) -> pa.Table:
        """The same rows, with what was read in columns of its own."""
        if not self.at:
            return cells
        self.why.clear()
        texts = {c: texts_of(cells, self.sources.get(c)).cast(pa.string()) for c in (LAT, LON, DATUM, RADIUS)}
        odd = self._odd(texts)
        made = {c: texts[c] for c in self.at}
        if pc.any(odd).as_py():
            rows = [texts[c].filter(odd).to_pylist() for c in (LAT, LON, DATUM, RADIUS)]
            keys = [_Key(*k) for k in zip(*rows, strict=True)]
            read = self._read(list(dict.fromkeys(keys)))
            for column in self.at:
                new = pa.array([getattr(read[k], _FIELD[column]) for k in keys], pa.string())
                made[column] = pc.replace_with_mask(texts[column], odd, new)
        for column, at in self.at.items():
            there = cells.schema.get_field_index(at)
            cells = cells.set_column(there, at, made[column]) if there >= 0 else cells.append_column(at, made[column])
        return cells

    def _odd(self, texts: dict[str, pa.Array]) -> pa.Array:
        """Which rows are more than plain decimal degrees."""
        if self.said.every_row or self.pair:
            return pa.repeat(pa.scalar(True), len(texts[LAT]))
        plain = f"^({self.plain.pattern})?$"
        same = pc.and_(pc.match_substring_regex(texts[LAT], plain), pc.match_substring_regex(texts[LON], plain))
        if DATUM in self.at:
            same = pc.and_(same, pc.is_in(texts[DATUM], pa.array(["", WGS84])))
        return pc.invert(same)

    # --- distinct texts -------------------------------------------------------------------------------------

    def _read(self, keys: list[_Key]) -> dict[_Key, _Key]:
        """What each distinct row of texts becomes."""
        parsed = {key: self._parse(key) for key in keys}
        wholes = {k: p for k, p in parsed.items() if isinstance(p, _Read)}
        degrees: dict[_Key, tuple[Decimal, Decimal] | None] = {}
        for code in {p.code for p in wholes.values()}:
            some = {k: p for k, p in wholes.items() if p.code == code}
            if code == WGS84:
                degrees |= {k: (p.y, p.x) for k, p in some.items()}
                continue
            places = to_wgs84(code, [float(p.x) for p in some.values()], [float(p.y) for p in some.values()])
            degrees |= {
                k: None if at is None else (Decimal(at[0]).quantize(PLACES), Decimal(at[1]).quantize(PLACES))
                for k, at in zip(some, places, strict=True)
            }
        made = {}
        for key, got in parsed.items():
            if isinstance(got, _Key):
                made[key] = got
            elif (at := degrees[key]) is None:
                made[key] = self._unread(key, Unread(f"a position within {got.code}", OUTSIDE))
            else:
                made[key] = self._told(key, got, *at)
        return made

    def _parse(self, key: _Key) -> "_Read | _Key":
        """The position, or the texts as they go on when there is no whole position to change."""
        blank = [t.casefold() in self.blanks for t in (key.latitude, key.longitude)]
        if all(blank):
            known = datum_code(key.datum)
            return key._replace(datum=known or key.datum)
        code = self.said.crs or (datum_code(key.datum) if key.datum.casefold() not in self.blanks else WGS84)
        if code != UTM and (not code or is_grid(code) is None):
            self.why[DATUM, key.datum] = NO_DATUM
            return key._replace(datum=UNREAD + key.datum)
        if any(blank) and code != WGS84:  # half a position cannot be brought to another datum
            axis, text = (LON, key.longitude) if blank[0] else (LAT, key.latitude)
            self.why[axis, text] = HALF
            return key._replace(**{axis: UNREAD + text})
        if code == UTM or is_grid(code):
            text = self._metres(key.latitude)
            text = text if self.pair else f"{self._metres(key.longitude)} {text}"
            grid = read_grid(text, "" if code == UTM else code, self.said.utm_letter)
            if isinstance(grid, Unread):
                return self._unread(key, grid)
            return _Read(Decimal(repr(grid[0])), Decimal(repr(grid[1])), grid[2], grid[3])
        if self.pair:
            both = read_pair(key.latitude, self.said.language, self.said.longitude_first)
            if isinstance(both, Unread):
                return self._unread(key, both)
            latitude: Angle | str
            longitude: Angle | str
            latitude, longitude = both
        else:
            latitude, longitude = self._angle(key.latitude, LAT), self._angle(key.longitude, LON)
        if isinstance(latitude, Angle) and isinstance(longitude, Angle):
            return _Read(longitude.degrees, latitude.degrees, max(latitude.step, longitude.step), code)
        return key._replace(
            latitude=self._half(latitude, key.latitude, code), longitude=self._half(longitude, key.longitude, code)
        )

    def _half(self, read: "Angle | str", text: str, code: str) -> str:
        """One of two whose other one is blank or unread: it cannot be brought to another datum."""
        return read if isinstance(read, str) else text if code != WGS84 else self._written(read.degrees, text)

    def _angle(self, text: str, axis: str) -> "Angle | str":
        """The angle, or the text as it goes on."""
        if text.casefold() in self.blanks:
            return text
        hemisphere = next((h for h in self.said.hemisphere if h in ("NS" if axis == LAT else "EW")), "")
        made = read_angle(text, self.said.language)
        if hemisphere and not (
            isinstance(made, Angle) and made.axis
        ):  # a letter in the cell says more than the heading
            made = read_angle(text, self.said.language, hemisphere)
        if isinstance(made, Angle) and ((made.axis or axis) != axis or abs(made.degrees) > LIMIT[axis]):
            made = SWAPPED if LAT in (axis, made.axis) else NO_POSITION
        if isinstance(made, Unread):
            self.why[axis, text] = made
            return UNREAD + text
        return made

    def _unread(self, key: _Key, why: Unread) -> _Key:
        self.why[LAT, key.latitude] = self.why[LON, key.longitude] = why
        return key._replace(latitude=UNREAD + key.latitude, longitude=UNREAD + key.longitude)

    def _told(self, key: _Key, got: _Read, latitude: Decimal, longitude: Decimal) -> _Key:
        return _Key(
            self._written(latitude, key.latitude if got.code == WGS84 and not self.pair else ""),
            self._written(longitude, key.longitude if got.code == WGS84 and not self.pair else ""),
            WGS84 if self.said.crs or key.datum.casefold() not in self.blanks else key.datum,
            self._radius(key.radius, got, latitude),
        )

    def _metres(self, text: str) -> str:
        """Eastings and northings are too long for a mark to be told by itself: the sheet's own are taken, and no other."""
        bare = self.grouped.sub("", text) if self.grouped else text
        return bare if self.mark == "." else re.sub(r"(?<=\d),(?=\d)", ".", bare.replace(".", "?"))

    def _written(self, value: Decimal, before: str) -> str:
        """Degrees in the sheet's decimal mark; as it was where it said just that."""
        if self.plain.fullmatch(before) and Decimal(before.replace(self.mark, ".")) == value:
            return before
        return f"{value:f}".replace(".", self.mark)

    def _radius(self, written: str, got: _Read, latitude: Decimal) -> str:
        if written.casefold() not in self.blanks:
            if not self.said.estimated_error:
                return written
            number = re.fullmatch(rf"\d{{1,9}}(?:{re.escape(self.mark)}\d{{1,6}})?", written)
            return (
                f"{EPE_FACTOR * Decimal(written.replace(self.mark, '.')):f}".replace(".", self.mark)
                if number
                else written
            )
        if not self.said.uncertainty:
            return written
        step = float(got.step)
        digits = cell_m(step) if is_grid(got.code) else precision_m(float(latitude), step)
        return str(max(1, math.ceil(digits + RECEIVERS.get(self.said.uncertainty, 0) + transformation_m(got.code))))


_FIELD = {LAT: "latitude", LON: "longitude", DATUM: "datum", RADIUS: "radius"}
