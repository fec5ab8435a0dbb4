"""Whether a place is on land, by a mask of cells of 30 seconds of arc (about 1 km), with what that leaves open.

The mask is `pipeline/land_mask.py`'s. A coast is nowhere sharper than a cell, and kelp grows within one of it. So a place is called
`land` only when every cell within its own uncertainty and one cell more is land; when one of them is sea it is `shore`,
which is a reason to look and no more. OBIS judges by finer polygons, so its flag may differ near a coast.
"""

import math
from collections.abc import Sequence
from typing import Any

import duckdb
import numpy as np
from numpy.typing import NDArray

from pipeline.land_mask import BAND, CELL_M, COLUMNS, PER_DEGREE, ROWS, sea_in

MOST_CELLS = 60  # a wider uncertainty holds sea almost anywhere


def ashore(db: duckdb.DuckDBPyConnection, tables: Sequence[str]) -> None:
    """Table `ashore`: the different places of these tables that are not plainly at sea, and whether land or shore."""
    db.execute("create table ashore (lat varchar, lon varchar, radius varchar, state varchar)")
    terms = ("decimalLatitude", "decimalLongitude", "coordinateUncertaintyInMeters")
    selects = []
    for t in tables:
        has = {row[0] for row in db.execute(f"describe {t}").fetchall()}
        if {*terms[:2]} <= has:
            selects.append(
                "select distinct " + ", ".join(f'"{c}"' if c in has else "null" for c in terms) + f" from {t}"
            )
    if not selects:
        return
    places = db.execute(
        f"select lat, lon, radius, num(lat) as y, num(lon) as x, coalesce(least(num(radius), 1e6), 0) as r "
        f"from ({' union '.join(selects)}) p(lat, lon, radius) "
        "where num(lat) between -90 and 90 and num(lon) between -180 and 180 and not (num(lat) = 0 and num(lon) = 0)"
    ).fetchnumpy()
    if not len(places["y"]):
        return
    states = state_of(*(np.asarray(places[c], dtype=float) for c in "yxr"))
    at = [i for i, s in enumerate(states) if s]
    if at:
        db.register(
            "found", _table({c: [places[c][i] for i in at] for c in ("lat", "lon", "radius")}, [states[i] for i in at])
        )
        db.execute("insert into ashore select * from found")
        db.unregister("found")


def _table(texts: dict[str, list[Any]], states: list[str]) -> Any:
    import pyarrow as pa

    plain = {name: [None if v is np.ma.masked else v for v in values] for name, values in texts.items()}
    return pa.table(plain | {"state": states}, schema=pa.schema([(n, pa.string()) for n in (*plain, "state")]))


def state_of(lat: NDArray[Any], lon: NDArray[Any], radius_m: NDArray[Any]) -> list[str]:
    """For each place (degrees, metres): "land", "shore", or "" where the mask has sea."""
    reach = np.minimum(np.ceil(radius_m / CELL_M), MOST_CELLS).astype(int) + 1
    row = np.clip(((90 - lat) * PER_DEGREE).astype(int), 0, ROWS - 1)
    column = np.clip(((lon + 180) * PER_DEGREE).astype(int), 0, COLUMNS - 1)
    north = max(0, int((row - reach).min())) // BAND * BAND
    south = min(ROWS, (int((row + reach).max()) // BAND + 1) * BAND)
    sea = sea_in(north, south)
    here = (sea[row - north, column >> 3] >> (7 - (column & 7)).astype(np.uint8)) & 1
    states = np.where(here == 1, "", "land").tolist()
    near: dict[tuple[int, int, int], str] = {}
    for i in np.flatnonzero(here == 0):
        key = (int(row[i]), int(column[i]), int(reach[i]))
        if key not in near:
            near[key] = (
                "shore" if key[2] > MOST_CELLS or _sea_within(sea, key[0] - north, key[1], key[2], lat[i]) else "land"
            )
        states[i] = near[key]
    return [str(s) for s in states]


def _sea_within(sea: NDArray[np.uint8], row: int, column: int, reach: int, lat: float) -> bool:
    wide = min(COLUMNS // 2, math.ceil(reach / max(math.cos(math.radians(lat)), 0.01)))
    columns = np.arange(column - wide, column + wide + 1) % COLUMNS
    bits = sea[max(0, row - reach) : row + reach + 1, columns >> 3] >> (7 - (columns & 7)).astype(np.uint8)
    return bool((bits & 1).any())
