"""footprintWKT: whether it is well-known text with longitude before latitude, and the box that it fills."""

import re
from collections.abc import Sequence

import duckdb
import pyarrow as pa

BATCH = 20_000
_KIND = re.compile(
    r"(?i)\s*(SRID=\d+;)?\s*(POINT|LINESTRING|POLYGON|MULTIPOINT|MULTILINESTRING|MULTIPOLYGON|GEOMETRYCOLLECTION)\b"
)
_POSITION = re.compile(r"(-?\d+(?:\.\d+)?)\s+(-?\d+(?:\.\d+)?)")
_REST = re.compile(r"(?i)[-\d.,()\sZM]|POINT|LINESTRING|POLYGON|MULTI|EMPTY|SRID=\d+;")

Box = tuple[float, float, float, float]


def box_of(wkt: str) -> Box | None:
    """West, south, east, north of an outline in degrees; None when it cannot be read or leaves the globe.

    What is closed and inside out is not looked at: only that the text is one, its brackets match and its rings close.
    """
    if not _KIND.match(wkt) or _REST.sub("", wkt) or wkt.count("(") != wkt.count(")"):
        return None
    positions = [(float(x), float(y)) for x, y in _POSITION.findall(wkt)]
    if not positions or not _rings_close(wkt):
        return None
    xs, ys = zip(*positions, strict=True)
    fits = min(xs) >= -180 and max(xs) <= 180 and min(ys) >= -90 and max(ys) <= 90
    return (min(xs), min(ys), max(xs), max(ys)) if fits else None


def _rings_close(wkt: str) -> bool:
    """Whether each ring of a polygon ends where it starts."""
    if "POLYGON" not in wkt.upper():
        return True
    rings = [_POSITION.findall(ring) for ring in re.findall(r"\(([^()]*)\)", wkt)]
    return all(ring[0] == ring[-1] and len(ring) > 3 for ring in rings if len(ring) > 1)


def outlined(db: duckdb.DuckDBPyConnection, tables: Sequence[str]) -> None:
    """Table `outlined`: every different footprintWKT of these tables, once, and its box (null where there is none)."""
    edges = ("_west", "_south", "_east", "_north")
    db.execute(f"create table outlined (wkt varchar, {', '.join(f'{e} double' for e in edges)})")
    has = [t for t in tables if any(r[0] == "footprintWKT" for r in db.execute(f"describe {t}").fetchall())]
    if not has:
        return
    texts = db.cursor().execute(
        " union ".join(f'select distinct "footprintWKT" from {t} where "footprintWKT" is not null' for t in has)
    )
    while batch := [row[0] for row in texts.fetchmany(BATCH)]:
        boxes = [box_of(text) or (None,) * 4 for text in batch]
        columns = {"wkt": batch} | {e: pa.array([b[i] for b in boxes], pa.float64()) for i, e in enumerate(edges)}
        db.register("rows", pa.table(columns))
        db.execute("insert into outlined select * from rows")
        db.unregister("rows")
