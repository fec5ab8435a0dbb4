"""The land around a map's places, as strips of cells of about 1 km: a coast to find one's way by, not to steer by."""

import json
import math
from pathlib import Path

import numpy as np

from pipeline import disk
from pipeline.land_mask import BAND, COLUMNS, PER_DEGREE, ROWS, sea_in
from pipeline.pages.told import Place, Strip

WIDEST_M = 1_000_000.0  # half of a map that may be drawn flat
MOST_ROWS = 100  # of strips from north to south; a wider map joins cells
LONGEST = 16  # cells in a strip, so that it is straight on a map


def land_once(path: Path, middle: Place, half_m: float) -> list[Strip] | None:
    """`land_around`, remembered in a file that can be thrown away: to unpack the mask takes a second or two."""
    key = f"{middle.latitude},{middle.longitude},{half_m}"
    try:
        known = dict(json.loads(path.read_text()))
        return None if known[key] is None else [Strip(*s) for s in known[key]]
    except (OSError, ValueError, TypeError, KeyError):
        found = land_around(middle, half_m)
    told = None if found is None else [[s.south, s.north, s.west, s.east] for s in found]
    disk.replace(path, json.dumps({key: told}).encode())
    return found


def land_around(middle: Place, half_m: float) -> list[Strip] | None:
    """Land in a square whose sides lie half_m metres from its middle, and a little beyond.

    [] where the mask has only sea, None where the square is too wide for a flat map.
    """
    if half_m > WIDEST_M:
        return None
    tall = half_m / 111_000 * 1.05
    wide = min(tall / max(math.cos(math.radians(middle.latitude)), 0.01), 179.0)
    top, bottom = (math.floor((90 - lat) * PER_DEGREE) for lat in (middle.latitude + tall, middle.latitude - tall))
    west, east = (math.floor((lon + 180) * PER_DEGREE) for lon in (middle.longitude - wide, middle.longitude + wide))
    top, bottom = max(top, 0), min(bottom + 1, ROWS)
    step = max(1, math.ceil((bottom - top) / MOST_ROWS))
    rows = top + np.arange(max((bottom - top) // step, 1)) * step
    columns = west + np.arange(max((east - west) // step + 1, 1)) * step
    north, south = top // BAND * BAND, min(ROWS, ((bottom - 1) // BAND + 1) * BAND)
    sea = sea_in(north, south)
    share = np.zeros((len(rows), len(columns)))
    for down in range(step):
        for along in range(step):
            at = (columns + along) % COLUMNS
            share += 1 - (
                sea[np.minimum(rows + down, ROWS - 1)[:, None] - north, at >> 3] >> (7 - (at & 7)).astype(np.uint8) & 1
            )
    land = share * 2 >= step * step
    found = []
    for row, cells in zip(rows.tolist(), land, strict=True):
        for first, last in _runs(np.flatnonzero(cells).tolist()):
            left, right = (west + c * step for c in (first, last + 1))
            found.append(
                Strip(
                    90 - (row + step) / PER_DEGREE,
                    90 - row / PER_DEGREE,
                    left / PER_DEGREE - 180,
                    right / PER_DEGREE - 180,
                )
            )
    return found


def _runs(columns: list[int]) -> list[tuple[int, int]]:
    runs: list[list[int]] = []
    for c in columns:
        if runs and c == runs[-1][1] + 1 and c - runs[-1][0] < LONGEST:
            runs[-1][1] = c
        else:
            runs.append([c, c])
    return [(a, b) for a, b in runs]
